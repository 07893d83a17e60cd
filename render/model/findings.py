"""What the inspection finds, by which limits, and what the order takes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

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
