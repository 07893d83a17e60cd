"""What a shop sews with: threads, lights, cloths, stabilisers, hoops, machines."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, ClassVar, Literal

if TYPE_CHECKING:
    from collections.abc import Mapping

    from render.model.arrays import Colour


@dataclass(frozen=True, slots=True)
class Thread:
    """One needle thread: colour, kind and size; the kinds are those of `presets/threads/`.

    `tex` is grams per kilometre; `density_g_per_cm3` of the fibre and `packing` (share of
    the round thread that is fibre) give its diameter. `label` is the shop's own word for
    it and `needle` its place on the machine. Its plies are twisted `twist_per_m` times a
    metre: Z, or S where that is negative. `fitted` is how it reflects where a shop has measured
    that, else as its kind.
    """

    colour_srgb: Colour
    kind: str
    tex: float
    density_g_per_cm3: float
    packing: float
    label: str = ""
    needle: int | None = None
    twist_per_m: float = 550.0
    fitted: FibreLobes | None = None

    # A laid thread is wider than high. Its section keeps the round thread's fibre area; the
    # ratio is calibrated so that a 40 wt fill at 0.4 mm rows just closes (common practice, no source).
    LAID_WIDTH_TO_HEIGHT: ClassVar[float] = 5.7

    @property
    def shines_as(self) -> str:
        """Name of its way of reflecting: its kind, or one of its own where it was fitted."""
        own = self.fitted
        if own is None:
            return self.kind
        numbers = (own.surface_share, own.surface_rad, own.surface_tilt, own.volume_even)
        return " ".join((self.kind, *(f"{number:.5g}" for number in numbers)))

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
    kind: str | None = None
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
    fades as the light leaves the viewer's side, `volume_low`, `volume_lower` and `volume_aside` how it gains
    (in powers of e) where light and view stand low and off the cone, `volume_even` the share of light
    without a direction, `even_low` how that gains where they stand low, and `wrap` and `even_wrap`
    how far the two reach round the thread. Light passes the dye as often as the `_depth` of its
    part says, 1 where the thread shines most: dye of albedo C leaves it C to that power.
    `lean_deg` is how far filaments run askew of the thread, with its twist. `flake` and `fuzz` in
    [0, 1] add a foil's facets and loose fibres. Of the photons that a fluorescent dye takes in,
    `emission_yield` comes back at longer waves. `scatter_per_mm` (Kubelka and Munk's S) is how soon thread
    hides what it lies on. `sparkle` in [0, 1] is how far flat sides of filaments sharpen the glints of single
    ones, which shine no more in the mean. `valley` is the share of its light that a thread loses at the
    bottom between two plies where others press it flat, `valley_alone` where it lies alone and round.
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
    volume_lower: float = 0.0
    volume_aside: float = 0.0
    even_low: float = 0.0
    lean_deg: float = 0.0
    flake: float = 0.0
    fuzz: float = 0.0
    emission_yield: float = 0.0
    scatter_per_mm: float = 100.0
    sparkle: float = 0.0
    valley: float = 0.12
    valley_alone: float = 0.12


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
    `holes_stay` in vinyl and leather, which needles perforate; `bed_mm` is how deep stitching lies in a soft
    face, `stands` the share of its relief that a thread laid over it does not press flat. `bending_n_mm` is
    the stiffness of a strip 1 mm wide against bending, `called` its title in other languages.
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
    pretension_n_per_m: float
    folder: str = ""
    tension_ratio: float = 1.0
    holes_stay: bool = False
    bed_mm: float = 0.0
    bending_n_mm: float = 0.01
    stands: float = 1.0
    called: Mapping[str, str] = field(default_factory=dict)


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

    `trims_after_jumps` is how many jump records in a row make it cut in formats without a trim
    code, `trims_from_mm` how long a jump does (None: neither does); `trimmer` whether it can cut at all.
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
    trims_from_mm: float | None = None


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
