"""The records that flow through the pipeline, and nothing else.

Design space is millimetres, x right, y down, as stitch files have it. Directions that
leave the cloth have z towards the viewer. Azimuths are degrees from +x towards +y, so on
the screen 0 is right, 90 bottom, 180 left and 270 top. Colours are sRGB in [0, 1] where
a name ends in `_srgb` and linear light where it ends in `_linear`. Arrays are read-only.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from enum import IntEnum
from math import isfinite
from typing import TYPE_CHECKING, Any, ClassVar, Literal

from render.errors import UsageError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.integer[Any]]

Colour = tuple[float, float, float]


def freeze(record: object, **arrays: tuple[int, ...]) -> None:
    """Check the shape of each named array (-1 = any) and make it read-only.

    Raises ValueError when a shape differs or a float array holds a value that is not finite.
    """

    for name, shape in arrays.items():
        array = getattr(record, name)
        if array.ndim != len(shape) or any(
            want not in (-1, have) for want, have in zip(shape, array.shape, strict=True)
        ):
            raise ValueError(f"{type(record).__name__}.{name} has shape {array.shape}, expected {shape}")
        if array.dtype.kind == "f" and not _all_finite(array):
            raise ValueError(f"{type(record).__name__}.{name} holds a value that is not finite")
        array.flags.writeable = False


def _all_finite(array: NDArray[Any]) -> bool:
    """Whether no value is infinite or not a number: their sum then is neither, and is soon told."""
    import numpy as np

    with np.errstate(over="ignore", invalid="ignore"):
        total = array.sum()
    return bool(np.isfinite(total) or np.isfinite(array).all())


class Command(IntEnum):
    """What the machine does at one record of a stitch file."""

    STITCH = 0
    JUMP = 1
    TRIM = 2
    COLOUR_CHANGE = 3
    STOP = 4
    SEQUIN = 5


TrimRule = Literal["explicit", "every-jump", "inferred", "never"]


@dataclass(frozen=True, slots=True, eq=False)
class Design:
    """A stitch file as read: every record in order, nothing interpreted yet.

    `xy_mm (N, 2)` float64 is where each record ends, `command (N,)` uint8 a `Command`.
    A STITCH is a needle point; a JUMP moves without one; TRIM, COLOUR_CHANGE, STOP and
    SEQUIN happen at their point. `colours_srgb` has one entry a colour block as far as
    the file knows it, None where it does not. `trim_rule` says how the format tells cuts:
    with codes, on every jump, not at all (then a run of jumps may or may not cut,
    depending on the machine), or the machine never cuts. `long_stitches_split` is true
    for formats that write a long stitch as jumps ending in a stitch with the same step.
    """

    name: str
    format: str
    xy_mm: Floats
    command: Ints
    colours_srgb: tuple[Colour | None, ...]
    trim_rule: TrimRule
    long_stitches_split: bool
    sha256: str
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        freeze(self, xy_mm=(-1, 2), command=(len(self.xy_mm),))


Cut = Literal["no", "yes", "depends"]


@dataclass(frozen=True, slots=True)
class Travel:
    """Thread dragged, or cut, between two needle points.

    `after_stitch` is the index of the last stitch before it (-1: before the first).
    """

    from_mm: tuple[float, float]
    to_mm: tuple[float, float]
    after_stitch: int
    colour_block: int
    cut: Cut
    reason: str

    @property
    def length_mm(self) -> float:
        return math.dist(self.from_mm, self.to_mm)


StitchKind = Literal[
    "running", "bean", "satin", "split-satin", "e-stitch", "fill", "cross-stitch", "underlay", "tie"
]


@dataclass(frozen=True, slots=True)
class SewnObject:
    """A run of stitches of one character: `first` to `last` stitch, both included.

    `row_spacing_mm` is the distance of neighbouring rows (fill) or of neighbouring
    penetrations on one edge (satin), nan where there are none; `angle_deg` the main
    direction of the thread in [0, 180); `width_mm` the extent across the object's axis
    and `length_mm` along it. An object of kind underlay or tie says in `serves` which
    kind of stitch it is made of.
    """

    index: int
    kind: StitchKind
    first: int
    last: int
    colour_block: int
    row_spacing_mm: float
    angle_deg: float
    width_mm: float
    length_mm: float
    serves: StitchKind | None = None


@dataclass(frozen=True, slots=True)
class ColourBlock:
    """Consecutive stitches of one thread: `first` to `last`, both included.

    `ends_with` is what ends it: a colour change, a stop, or the end of the design.
    """

    index: int
    first: int
    last: int
    ends_with: Literal["colour-change", "stop", "end"]


@dataclass(frozen=True, slots=True, eq=False)
class SewPlan:
    """What will be sewn, in order.

    Stitch i lies on the cloth from `start_mm[i]` to `end_mm[i]` (S, 2). `thread_breaks`
    (S,) bool is true where the thread does not come from the stitch before (after a
    travel, cut or colour change). `colour_block`, `object_index` (S,) int32.
    `sequins_mm (Q, 2)` with `sequin_block (Q,)`.
    """

    start_mm: Floats
    end_mm: Floats
    thread_breaks: NDArray[np.bool_]
    colour_block: Ints
    object_index: Ints
    travels: tuple[Travel, ...]
    blocks: tuple[ColourBlock, ...]
    objects: tuple[SewnObject, ...]
    sequins_mm: Floats
    sequin_block: Ints
    trims: int
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        n = len(self.start_mm)
        freeze(self, start_mm=(-1, 2), end_mm=(n, 2), thread_breaks=(n,))
        freeze(self, colour_block=(n,), object_index=(n,))
        freeze(self, sequins_mm=(-1, 2), sequin_block=(len(self.sequins_mm),))

    @property
    def box_mm(self) -> tuple[float, float, float, float]:
        """Left, top, right, bottom of all needle points and sequins."""
        import numpy as np

        points = np.concatenate([self.start_mm, self.end_mm, self.sequins_mm])
        (left, top), (right, bottom) = points.min(0), points.max(0)
        return float(left), float(top), float(right), float(bottom)


@dataclass(frozen=True, slots=True, eq=False)
class ClothMove:
    """How far the finished cloth has moved from where it lay in the hoop before the first stitch.

    `u_mm (rows, cols, 2)` at even points: row r, column c belongs to the cloth that lay at
    `origin_mm` + `cell_mm` (c, r). `pucker (rows, cols)` uint8 is 0 low, 1 medium, 2 high.
    """

    u_mm: Floats
    pucker: NDArray[np.uint8]
    origin_mm: tuple[float, float]
    cell_mm: float

    def __post_init__(self) -> None:
        freeze(self, u_mm=(*self.pucker.shape, 2), pucker=(-1, -1))


@dataclass(frozen=True, slots=True)
class ClothRest:
    """How the cloth lay in the hoop once so many stitches were sewn."""

    stitches: int
    move: ClothMove


@dataclass(frozen=True, slots=True)
class ObjectMove:
    """One object as programmed and as sewn, mm; its `index` is that of the plan's object.

    Width is along the main direction of the thread (nan where an object has none), push what
    the object gains across it, both ends together, and shift how far its middle has moved.
    """

    index: int
    programmed_width_mm: float
    sewn_width_mm: float
    push_mm: float
    shift_mm: tuple[float, float]

    @property
    def pull_in_mm(self) -> float:
        return self.programmed_width_mm - self.sewn_width_mm


@dataclass(frozen=True, slots=True, eq=False)
class Sewn:
    """Where the stitches end up on the finished cloth, `(S, 2)` each.

    While the cloth lies still these are the programmed places, `cloth` and `give_mm` are None
    and `objects` empty. `give_mm (S, 2, 2)` is what needle holes have given way at the start and
    at the end of each stitch; the rest of the way from the programmed place the cloth has moved.
    `rests`, where they are asked for, is how the cloth lay on the way, from few stitches to all.
    """

    plan: SewPlan
    start_mm: Floats
    end_mm: Floats
    notes: tuple[str, ...] = ()
    cloth: ClothMove | None = None
    objects: tuple[ObjectMove, ...] = ()
    give_mm: Floats | None = None
    rests: tuple[ClothRest, ...] = ()

    def __post_init__(self) -> None:
        freeze(self, start_mm=(len(self.plan.start_mm), 2), end_mm=(len(self.plan.start_mm), 2))
        if self.give_mm is not None:
            freeze(self, give_mm=(len(self.plan.start_mm), 2, 2))


ThreadKind = Literal["rayon", "trilobal-polyester", "matte-polyester", "cotton", "wool-blend", "metallic"]


@dataclass(frozen=True, slots=True)
class Thread:
    """One needle thread: colour, kind and size.

    `tex` is grams per kilometre; `density_g_per_cm3` of the fibre and `packing` (share of
    the round thread that is fibre) give its diameter. `label` is the shop's own word for
    it and `needle` its place on the machine. Its plies are twisted `twist_per_m` times a
    metre: Z, or S where that is negative.
    """

    colour_srgb: Colour
    kind: ThreadKind
    tex: float
    density_g_per_cm3: float
    packing: float
    label: str = ""
    needle: int | None = None
    twist_per_m: float = 550.0

    # A laid thread is wider than high. Its section keeps the round thread's fibre area; the
    # ratio is calibrated so that a 40 wt fill at 0.4 mm rows just closes (common practice, no source).
    LAID_WIDTH_TO_HEIGHT: ClassVar[float] = 5.7

    @property
    def diameter_mm(self) -> float:
        """Round diameter, from mass balance: d = 2 sqrt(tex / (1000 pi rho phi))."""
        return float(0.03568248232305542 * (self.tex / (self.density_g_per_cm3 * self.packing)) ** 0.5)

    @property
    def laid_width_mm(self) -> float:
        """Width as it lies on cloth, flattened."""
        return float(self.diameter_mm * self.LAID_WIDTH_TO_HEIGHT**0.5)


@dataclass(frozen=True, slots=True)
class ThreadChange:
    """What a user asks of a block's thread; None leaves kind or size as it is."""

    colour_srgb: Colour
    kind: ThreadKind | None = None
    tex: float | None = None


@dataclass(frozen=True, slots=True)
class FibreLobes:
    """How one kind of thread reflects: an uncoloured lobe off the filaments' skin and a
    dyed one from within.

    `surface_share` is what the skin reflects of an even white surrounding when seen and lit
    straight on; towards grazing it rises as Fresnel's law for `index` says. Each lobe has a
    width about the mirror cone (`_rad`, of the sum of the sines of light and view against
    the thread's axis), which `_tilt`, the spread of the filaments' rise, widens by as much as
    light and view stand upright. `volume_falloff` is the second's exponent, `volume_back` how it
    fades as the light leaves the viewer's side, `volume_low` how it gains where light and view
    stand low, `volume_even` the share of light without a direction, and `wrap` and `even_wrap`
    how far the two reach round the thread. Light passes the dye as often as the `_depth` of its
    part says, 1 where the thread shines most: dye of albedo C leaves it C to that power.
    `lean_deg` is how far filaments run askew of the thread, with its twist. `flake` and `fuzz` in
    [0, 1] add a foil's facets and loose fibres.
    """

    index: float
    surface_share: float
    surface_rad: float
    surface_tilt: float
    volume_rad: float
    volume_tilt: float
    volume_falloff: float
    volume_back: float
    volume_low: float
    volume_even: float
    wrap: float
    even_wrap: float
    volume_depth: float = 1.0
    even_depth: float = 1.0
    lean_deg: float = 0.0
    flake: float = 0.0
    fuzz: float = 0.0


@dataclass(frozen=True, slots=True)
class Lamp:
    """A round light at infinity: where it is, how wide it looks, how strong.

    `irradiance` is what it gives to a card that faces it, relative to the other lights.
    """

    azimuth_deg: float
    elevation_deg: float
    size_deg: float
    irradiance: float
    colour_linear: Colour


@dataclass(frozen=True, slots=True)
class Light:
    """A studio set-up: lamps and an even dome of `dome_linear` radiance.

    Exposure is by white card: a flat white card under it is drawn as white, whatever
    the strengths; the colour of the light is kept only as far as the set-up asks
    (`white_balance` 1 removes it wholly).
    """

    name: str
    title: str
    lamps: tuple[Lamp, ...]
    dome_linear: Colour
    white_balance: float = 1.0


@dataclass(frozen=True, slots=True)
class Fabric:
    """A cloth: what it looks like and how stiff it is.

    `structure` is the weave, knit or pile as its TOML spells it (lengths in mm);
    stiffnesses are of the membrane. `folder` holds the files it came from. `tension_ratio` is
    the tension left in a stitch as a multiple of the usual, where a shop has fitted it;
    `holes_stay` in vinyl and leather, which needles perforate.
    """

    name: str
    title: str
    colour_srgb: Colour
    thickness_mm: float
    stabiliser: str
    structure: dict[str, Any]
    e_warp_n_per_m: float
    e_weft_n_per_m: float
    poisson: float
    shear_n_per_m: float
    hole_give_mm: float
    bending_n_mm: float
    pretension_n_per_m: float
    folder: str = ""
    tension_ratio: float = 1.0
    holes_stay: bool = False


@dataclass(frozen=True, slots=True)
class Stabiliser:
    """A sheet under the cloth, alike in all directions: membrane stiffness and Poisson's ratio."""

    name: str
    title: str
    e_n_per_m: float
    poisson: float


@dataclass(frozen=True, slots=True)
class Hoop:
    """The inside of a hoop, a rectangle or an ellipse, mm.

    A cap frame is a rectangle, flattened, that holds the cap at the brim alone: its lower edge.
    """

    name: str
    title: str
    shape: Literal["rectangle", "ellipse", "cap"]
    width_mm: float
    height_mm: float


@dataclass(frozen=True, slots=True)
class Spread:
    """How far off the likely prediction may be, as multiples of it.

    Of the cloth's own movement and of the give of its needle holes, where all that is uncertain
    acts as weakly (`low`) or as strongly (`high`) as is plausible.
    """

    cloth_low: float
    cloth_high: float
    hole_low: float
    hole_high: float


@dataclass(frozen=True, slots=True)
class Holding:
    """The cloth as the machine gets it, and how hard stitches pull on it.

    `contact_n_per_mm3` is how firmly the layers keep together without stitches, off the hoop too
    where it is `adhesive`; `stretch` the
    hooping tension as a multiple of the fabric's own, `cloth_in_hoop` false where only the
    stabiliser is hooped. `tension_n` is what stays in a sewn stitch, of which `fabric_share` acts
    on the fabric and the rest on the stabiliser; `pin_n_per_mm` how firmly a needle hole joins
    the two; `push_share` how much of the tension presses outwards across the stitches.
    `taken_out`: the result is measured off the hoop. `spread` says how sure all this is.
    """

    fabric: Fabric
    stabiliser: Stabiliser | None
    hoop: Hoop
    fabric_turn_deg: float
    contact_n_per_mm3: float
    adhesive: bool
    stretch: float
    cloth_in_hoop: bool
    tension_n: float
    fabric_share: float
    pin_n_per_mm: float
    push_share: float
    taken_out: bool
    spread: Spread


@dataclass(frozen=True, slots=True)
class Machine:
    """What the shop's machine does by itself.

    `trims_after_jumps` is how many jump records in a row make it cut in formats without
    a trim code (None: it never does); `trimmer` whether it can cut at all.
    """

    name: str
    title: str
    trimmer: bool | None
    trims_after_jumps: int | None
    automatic_ties: bool | None
    needles: int
    field_mm: tuple[float, float]
    speed_spm: float
    cap_speed_spm: float


@dataclass(frozen=True, slots=True)
class BlockTreatment:
    """What a stitch file does not say of one colour block.

    An appliqué block carries the cloth laid there and its colour, cut to shape before or not;
    foam raises a satin by `height_mm`; open work is meant to show the cloth.
    """

    kind: Literal["applique", "foam", "open"]
    fabric: str = ""
    colour_srgb: Colour | None = None
    height_mm: float = 0.0
    pre_cut: bool = False


Finish = Literal["off-machine", "cleaned"]


@dataclass(frozen=True, slots=True)
class Job:
    """Everything about an order that the stitch file does not know.

    `threads` is one a colour block (shorter lists leave the rest to the file's colours);
    `thread_changes` come on top, by block counted from 0;
    without a `stabiliser` or `hoop` the fabric's usual one and the smallest that holds the
    design are meant; `needle_tension_n` is as read at the machine; the piece is drawn as it
    lies `in_hoop`, for which the give was calibrated, or taken out of it, and on cloth that lies
    still when `as_programmed`;
    `facts` the customer's: shop, customer, order, garment, placement, quantity, notes …
    """

    fabric: Fabric
    light: Light
    machine: Machine
    fabric_colour_srgb: Colour | None = None
    fabric_turn_deg: float = 0.0
    stabiliser: str | None = None
    topping: str | None = None
    hoop: str | None = None
    held: str = "hooped"
    needle_tension_n: float | None = None
    in_hoop: bool = True
    as_programmed: bool = False
    threads: tuple[Thread, ...] = ()
    thread_changes: dict[int, ThreadChange] = field(default_factory=dict)
    blocks: dict[int, BlockTreatment] = field(default_factory=dict)
    finish: Finish = "off-machine"
    seed: int = 0
    waivers: tuple[Waiver, ...] = ()
    facts: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class View:
    """How the picture is framed: resolution, margin, turn and background.

    `width_px` sets the resolution from the picture's width instead of `dpi`. The turn is
    of the design on the cloth, clockwise as seen; a mirror image swaps left and right first. `worn`
    shows a cap's front on its curve.
    Raises UsageError for values that frame no picture.
    """

    dpi: float = 300.0
    width_px: int | None = None
    margin_mm: float = 6.0
    hoop_mm: tuple[float, float] | None = None
    rotate_deg: float = 0.0
    mirror: bool = False
    transparent: bool = False
    worn: bool = False

    def __post_init__(self) -> None:
        if not (isfinite(self.dpi) and self.dpi > 0):
            raise UsageError(f"{self.dpi:g} dpi make no picture: give a number above 0")
        if self.width_px is not None and self.width_px < 1:
            raise UsageError(f"a picture cannot have a width of {self.width_px} pixels: give 1 or more")
        if not (isfinite(self.margin_mm) and self.margin_mm >= 0):
            raise UsageError(f"a margin of {self.margin_mm:g} mm makes no picture: give 0 or more")
        if self.hoop_mm is not None and not all(isfinite(side) and side > 0 for side in self.hoop_mm):
            width, height = self.hoop_mm
            raise UsageError(f"a hoop of {width:g} x {height:g} mm makes no picture: give sides above 0")
        if not isfinite(self.rotate_deg):
            raise UsageError(f"the design cannot be rotated by {self.rotate_deg:g} degrees: give a number")


@dataclass(frozen=True, slots=True)
class Window:
    """The rectangle of design space that a picture shows.

    `px_per_mm` pixels a millimetre, `rows` by `cols` pixels around `centre_mm`.
    """

    centre_mm: tuple[float, float]
    px_per_mm: float
    rows: int
    cols: int


@dataclass(frozen=True, slots=True, eq=False)
class Layers:
    """The drawn picture in linear light, not yet put together.

    `thread_linear (rows, cols, 3)` is what thread adds, `cloth_linear` the lit cloth
    alone (0 where none of it can be seen), `cloth_share (rows, cols)` how much of the cloth's light
    is seen past thread and shadow, `covered` the share of the pixel that is thread. All float32."""

    thread_linear: NDArray[np.float32]
    cloth_linear: NDArray[np.float32]
    cloth_share: NDArray[np.float32]
    covered: NDArray[np.float32]

    def __post_init__(self) -> None:
        rows, cols = self.covered.shape
        freeze(self, thread_linear=(rows, cols, 3), cloth_linear=(rows, cols, 3))
        freeze(self, cloth_share=(rows, cols), covered=(rows, cols))


@dataclass(frozen=True, slots=True, eq=False)
class Picture:
    """A finished picture: `pixels (rows, cols, 3 or 4)` uint8 sRGB, alpha last, straight.

    `dpi` is its true scale; `notes` travel with it to the report.
    """

    pixels: NDArray[np.uint8]
    dpi: float
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        freeze(self, pixels=(-1, -1, self.pixels.shape[-1]))


@dataclass(frozen=True, slots=True, eq=False)
class Cover:
    """Which stitch lies on top where, at `window.px_per_mm`, one sample a pixel.

    `stitch (rows, cols)` int32 is the topmost stitch, `CLOTH` (-1) where there is none. Thread
    that is dragged, and tails, hide no stitch here: `loose (rows, cols)` int32 is the stitch that
    comes after the thread that lies over all, -1 where there is none.
    """

    stitch: NDArray[np.int32]
    loose: NDArray[np.int32]
    window: Window

    CLOTH: ClassVar[int] = -1

    def __post_init__(self) -> None:
        shape = (self.window.rows, self.window.cols)
        freeze(self, stitch=shape, loose=shape)


CLOTH = -1  # in planes that count stitches or blocks: no thread here


@dataclass(frozen=True, slots=True, eq=False)
class ThreadPlanes:
    """What thread shows at each pixel and how it lies, `(rows, cols)` each.

    `order` int32 is the stitch that shows, or after which the thread was dragged that shows, `block`
    int32 the colour block, both `CLOTH` where there is none. `azimuth_deg` of its axis in [0, 180),
    `tilt_deg` of that axis out of the picture and `roll_deg` of its surface to the right are float32;
    `body` is the share of light that its shape and bare cloth within the pixel leave; bit k of `sides`
    uint8 says that a lamp reaches it from k eighths of a turn.
    """

    order: NDArray[np.int32]
    block: NDArray[np.int32]
    azimuth_deg: NDArray[np.float32]
    tilt_deg: NDArray[np.float32]
    roll_deg: NDArray[np.float32]
    body: NDArray[np.float32]
    sides: NDArray[np.uint8]

    def __post_init__(self) -> None:
        shape = self.order.shape
        freeze(self, order=(-1, -1), block=shape, azimuth_deg=shape, tilt_deg=shape, roll_deg=shape)
        freeze(self, body=shape, sides=shape)


@dataclass(frozen=True, slots=True, eq=False)
class Earlier:
    """What a piece looked like before: `order (rows, cols)` int32 is the stitch that showed then, as in
    `ThreadPlanes`."""

    layers: Layers
    order: NDArray[np.int32]

    def __post_init__(self) -> None:
        freeze(self, order=self.layers.covered.shape)


@dataclass(frozen=True, slots=True, eq=False)
class Relightable:
    """A drawn picture with its planes, and what each place looked like before.

    A place looks as it does in the picture once the stitch `final (rows, cols)` int32 is sewn,
    `CLOTH` where none comes near. Until then it looks like the first of `earlier` whose stitch is
    sewn, those of other colour blocks, the latest first; and like bare cloth before all.
    """

    layers: Layers
    planes: ThreadPlanes
    final: NDArray[np.int32]
    earlier: tuple[Earlier, ...]

    def __post_init__(self) -> None:
        freeze(self, final=self.planes.order.shape)


Severity = Literal["note", "check", "fix"]
ProblemKind = Literal[
    "gap",
    "thin-cover",
    "crowding",
    "repeated-hole",
    "uncut-jump",
    "short-stitch",
    "long-stitch",
    "registration",
    "one-way-pull",
    "sequence",
    "applique-order",
    "no-tie",
    "no-underlay",
    "narrow-column",
    "wide-column",
    "small-lettering",
    "pucker",
    "hoop",
    "needless-trim",
    "buried-detail",
    "missing-stop",
    "cap-field",
    "seam",
]


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that would spoil a garment or cost time, as it lies on the finished cloth, mm.

    `where_mm` is a point in it, `box_mm` (left, top, right, bottom) holds it, `size_mm` is the
    length that decides it, None for kinds without one; each kind says in its own module what
    is measured. `stitches` first and last, both included; of a travel the last stitch before it
    and the first after. `cause` and `remedy` are sentences for a stitcher.
    """

    kind: ProblemKind
    severity: Severity
    where_mm: tuple[float, float]
    box_mm: tuple[float, float, float, float]
    size_mm: float | None
    objects: tuple[int, ...]
    stitches: tuple[int, int]
    colour_block: int
    cause: str
    remedy: str


@dataclass(frozen=True, slots=True)
class Production:
    """What sewing the piece once takes: seconds, and metres of thread.

    `needle_thread_m` has one entry a colour block, `clipped_mm` one a dragged thread that somebody
    has to clip, its length.
    """

    run_time_s: float
    trims: int
    colour_changes: int
    stops: int
    needle_thread_m: tuple[float, ...]
    bobbin_thread_m: float
    clipped_mm: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Waiver:
    """A finding that is meant so: problems of this kind there are left out; `why` is the shop's own."""

    kind: ProblemKind
    where_mm: tuple[float, float] | None
    within_mm: float
    why: str


@dataclass(frozen=True, slots=True)
class Limits:
    """From where on the inspector speaks up, for one cloth; `presets/limits.toml` says what each is."""

    gap_mm: float
    thin_spacing_mm: float
    usual_spacing_mm: float
    crowded_layers: float
    crowded_mm: float
    hole_within_mm: float
    hole_times: float
    hole_pitch_mm: float
    hole_pitch_fix_mm: float
    hole_line_mm: float
    jump_mm: float
    trim_mm: float
    short_check_mm: float
    short_fix_mm: float
    long_check_mm: float
    long_fix_mm: float
    shift_mm: float
    shift_fix_mm: float
    one_way_share: float
    one_way_mm: float
    tie_mm: float
    underlay_satin_mm: float
    underlay_fill_mm: float
    narrow_mm: float
    wide_mm: float
    letter_check_mm: float
    letter_fix_mm: float
    pucker_share: float
    buried_share: float
    buried_mm: float
    hoop_room_mm: float
    cap_height_mm: float
    cap_brim_mm: float
    seam_mm: float
    seam_stitch_mm: float
