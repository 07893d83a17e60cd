"""What identifies an approved design: its bytes, its stitches, and how its preview was made.

Stitches are identified apart from the file, since a design is approved in one format and sewn in
another. Canonical stitches are the needle points in sewing order, in tenths of a millimetre from
the upper left corner of their box, without points that repeat the one before. Formats agree on
these, but for a tenth here and there that some lose in rounding; how they write jumps, trims,
colours, long stitches and the origin is left out. Between which points the machine halts is kept
beside them: some formats cannot write a stop.
"""

from __future__ import annotations

import base64
import hashlib
import zlib
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from render.colour import hex_colour
from render.model import Command

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from render.model import Design, Job, SewPlan, Thread

UNITS_PER_MM = 10
MOST_POINTS = 4_000_000


@dataclass(frozen=True, slots=True)
class Fingerprints:
    """SHA-256 of the file and of the canonical stitches, and the stitches themselves.

    `points` needle points; `halts` counts the points before each halt; `path` holds the points,
    packed, so that two designs can be compared and not only told apart.
    """

    file: str
    stitches: str
    points: int
    halts: tuple[int, ...]
    path: str


def canonical_points(design: Design) -> NDArray[np.int32]:
    """Needle points (N, 2), int32, in tenths of a mm from the corner of their box."""
    return _points_and_halts(design)[0]


def fingerprints_of(design: Design) -> Fingerprints:
    """The fingerprints of a design as read."""
    points, halts = _points_and_halts(design)
    return Fingerprints(design.sha256, digest_of(points), len(points), halts, pack(points))


def pack(points: NDArray[np.int32]) -> str:
    """Points (N, 2) as steps of 32 bits, byte by byte of like weight, deflated, in base64."""
    steps = np.diff(points, axis=0, prepend=0).astype("<i4")
    planes = np.ascontiguousarray(steps.reshape(-1).view(np.uint8).reshape(-1, 4).T)
    return base64.b64encode(zlib.compress(planes.tobytes(), 9)).decode("ascii")


def unpack(path: str, count: int) -> NDArray[np.int32]:
    """The points that `pack` has packed. Raises ValueError where there are not so many."""
    if not 0 <= count <= MOST_POINTS:
        raise ValueError(f"{count} needle points")
    inflate = zlib.decompressobj()
    try:
        data = inflate.decompress(base64.b64decode(path, validate=True), 8 * count + 1)
    except zlib.error as error:
        raise ValueError(str(error)) from None
    if len(data) != 8 * count:
        raise ValueError(f"{len(data)} bytes for {count} needle points")
    planes = np.frombuffer(data, np.uint8).reshape(4, -1)
    steps = np.ascontiguousarray(planes.T).view("<i4").reshape(-1, 2)
    return np.cumsum(steps, axis=0, dtype=np.int64).astype(np.int32)


def digest_of(points: NDArray[np.int32]) -> str:
    """SHA-256 of points (N, 2) as pairs of little-endian 32-bit integers."""
    return hashlib.sha256(points.astype("<i4").tobytes()).hexdigest()


def _points_and_halts(design: Design) -> tuple[NDArray[np.int32], tuple[int, ...]]:
    command = design.command
    sewn = np.flatnonzero(command == Command.STITCH)
    if not len(sewn):
        return np.zeros((0, 2), np.int32), ()
    xy = design.xy_mm[sewn]
    # The corner first: formats that centre a design put it between two tenths.
    points = np.rint((xy - xy.min(0)) * UNITS_PER_MM).astype(np.int32)
    moved = np.concatenate([[True], (np.diff(points, axis=0) != 0).any(1)])
    count = np.concatenate([[0], np.cumsum(moved)])
    halted = np.flatnonzero((command == Command.COLOUR_CHANGE) | (command == Command.STOP))
    before = count[np.searchsorted(sewn, halted)]
    inside = before[(before > 0) & (before < count[-1])]
    return points[moved], tuple(dict.fromkeys(inside.tolist()))


def settings_of(
    job: Job,
    plan: SewPlan,
    threads: Sequence[Thread],
    *,
    hoop: str,
    stabiliser: str,
    rotate_deg: float,
    mirror: bool,
) -> dict[str, str]:
    """How the preview was made, by the names that the options take; what the defaults stood for, too."""
    colour = hex_colour(job.fabric_colour_srgb or job.fabric.colour_srgb)
    settings = {
        "fabric": job.fabric.name,
        "fabric colour": colour,
        "fabric turn": f"{job.fabric_turn_deg:g} deg",
        "stabiliser": stabiliser,
        "topping": job.topping or "none",
        "hoop": hoop,
        "held": job.held,
        "needle tension": "usual" if job.needle_tension_n is None else f"{job.needle_tension_n:g} N",
        "in the hoop": _yes(job.in_hoop),
        "as programmed": _yes(job.as_programmed),
        "light": job.light.name,
        "machine": job.machine.name,
        "finish": job.finish,
        "rotate": f"{rotate_deg:g} deg",
        "mirror": _yes(mirror),
        "seed": str(job.seed),
    }
    for number, thread in enumerate(threads, 1):
        settings[f"thread {number}"] = (
            f"{hex_colour(thread.colour_srgb)} {thread.shines_as} {thread.tex:.4g} tex"
        )
    for block, treatment in sorted(job.blocks.items()):
        if block < len(plan.blocks):
            cloth = "" if treatment.colour_srgb is None else hex_colour(treatment.colour_srgb)
            height = f"{treatment.height_mm:g} mm" if treatment.height_mm else ""
            words = (treatment.kind, treatment.fabric, cloth, height, "pre-cut" if treatment.pre_cut else "")
            settings[f"block {block + 1}"] = " ".join(word for word in words if word)
    return settings


def _yes(value: bool) -> str:
    return "yes" if value else "no"
