"""Whether a stitch file is the design that a proof was signed for, and what differs if not."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from render.errors import InputError
from render.proof.carried import find_record, fingerprints_in
from render.proof.fingerprints import (
    UNITS_PER_MM,
    Fingerprints,
    canonical_points,
    fingerprints_of,
    unpack,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from numpy.typing import NDArray

    from render.model import Design

    Points = NDArray[np.int32]

ROUNDING = 1  # tenth of a mm that a format may lose between blocks
Verdict = Literal["same file", "same stitches", "turned", "other stitches"]


@dataclass(frozen=True, slots=True)
class Check:
    """What came out. `approved` is true for the very file and for the same stitches in another one;
    `differences` and `settings` say in sentences what is not as in the proof."""

    verdict: Verdict
    approved: bool
    proof_name: str
    revision: str
    differences: tuple[str, ...]
    settings: tuple[str, ...]


def read_record(data: bytes, name: str) -> dict[str, Any]:
    """The record in a proof's bytes. Raises InputError where there is none."""
    record = find_record(data)
    if record is None:
        raise InputError(
            f"{name} carries no record of a proof: name the .pdf or .html file that `twillight proof` wrote"
        )
    return record


def verify(record: Mapping[str, Any], design: Design, settings: Mapping[str, str] | None = None) -> Check:
    """Hold a design, and the settings of a job where they are given, against a proof's record."""
    approved, ours = fingerprints_in(dict(record)), fingerprints_of(design)
    then, now = unpack(approved.path, approved.points), canonical_points(design)
    changed = () if settings is None else tuple(_changed(record["settings"], settings))
    verdict: Verdict = "other stitches"
    if ours.file == approved.file:
        verdict, differences = "same file", tuple[str, ...]()
    elif ours.stitches == approved.stitches or _alike(then, now):
        verdict, differences = "same stitches", tuple(_halts(approved, ours))
    elif turn := _turn(then, now):
        verdict, differences = "turned", (turn,)
    else:
        differences = tuple(_differences(approved, ours, then, now))
    same = verdict in ("same file", "same stitches") and not differences
    return Check(verdict, same and not changed, record["name"], record["revision"], differences, changed)


def _changed(approved: Mapping[str, str], ours: Mapping[str, str]) -> Iterator[str]:
    for key in dict.fromkeys([*approved, *ours]):
        before, now = approved.get(key, "nothing"), ours.get(key, "nothing")
        if before != now:
            yield f"{key}: approved {before}, now {now}"


def _halts(approved: Fingerprints, ours: Fingerprints) -> Iterator[str]:
    """Stops and colour changes at other places: some formats lose a stop."""
    for points, have, lack in (
        (sorted(set(approved.halts) - set(ours.halts)), "the proof", "this file"),
        (sorted(set(ours.halts) - set(approved.halts)), "this file", "the proof"),
    ):
        if points:
            listed = ", ".join(f"{point:,}" for point in points[:5]) + (" …" if len(points) > 5 else "")
            yield f"{have} halts after needle point {listed}, {lack} does not"


def _alike(then: Points, now: Points) -> bool:
    """Whether the points are the same, but for a tenth that a format may lose."""
    return then.shape == now.shape and bool((np.abs(then - now) <= ROUNDING).all())


def _turn(then: Points, now: Points) -> str | None:
    """The turn or mirror image that makes the points those of the proof; None where none does."""
    for mirrored in (False, True):
        for quarter in range(4):
            if (quarter or mirrored) and _alike(_moved(then, quarter, mirrored=mirrored), now):
                turn = f"turned by {90 * quarter}°" if quarter else ""
                how = " and ".join(part for part in ("mirrored" if mirrored else "", turn) if part)
                return f"the stitches of the proof, but {how}: cap designs often are; make sure it is meant"
    return None


def _moved(points: Points, quarter: int, *, mirrored: bool) -> Points:
    """Points mirrored left to right, then turned by quarters, from the corner of their box again."""
    x, y = points[:, 0] * (-1 if mirrored else 1), points[:, 1]
    for _ in range(quarter):
        x, y = -y, x
    moved = np.stack([x, y], 1)
    return np.asarray(moved - moved.min(0), np.int32)


def _differences(approved: Fingerprints, ours: Fingerprints, then: Points, now: Points) -> Iterator[str]:
    if (then.max(0) != now.max(0)).any():
        yield f"size: approved {_size(then)}, this file {_size(now)}"
    if len(then) != len(now):
        yield f"needle points: approved {len(then):,}, this file {len(now):,}"
    head, tail = _agreeing(then, now)
    changed = len(then) - head - tail, len(now) - head - tail
    where = f"needle point {head + 1:,} on, in colour {_block(ours.halts, head)}"
    if len(then) == len(now):
        off = np.abs(_beside(then, head, tail) - _beside(now, head, tail)).max(1)
        moved = int((off > ROUNDING).sum())
        yield f"from {where}: {moved:,} of {len(now):,} points lie elsewhere, by up to {_mm(off.max())}"
    else:
        yield f"from {where}: {changed[0]:,} points of the proof are {changed[1]:,} here; the rest is alike"
    if len(approved.halts) != len(ours.halts):
        yield f"colour blocks: approved {len(approved.halts) + 1}, this file {len(ours.halts) + 1}"


def _agreeing(then: Points, now: Points) -> tuple[int, int]:
    """How many points agree from the start, and how many more from the end, each held at its own end."""
    short = min(len(then), len(now))
    head = _run(then[:short] - then[0], now[:short] - now[0])
    tail = _run((then[::-1] - then[-1])[: short - head], (now[::-1] - now[-1])[: short - head])
    return head, tail


def _run(then: Points, now: Points) -> int:
    """How many points from the first on agree."""
    apart = np.flatnonzero((np.abs(then - now) > ROUNDING).any(1))
    return int(apart[0]) if len(apart) else len(then)


def _beside(points: Points, head: int, tail: int) -> Points:
    """Points seen from where both designs agree for longest: the start or the end."""
    fixed: Points = points[0] if head >= tail else points[-1]
    return np.asarray(points - fixed, np.int32)


def _block(halts: tuple[int, ...], point: int) -> int:
    return sum(halt <= point for halt in halts) + 1


def _size(points: Points) -> str:
    width, height = points.max(0) / UNITS_PER_MM
    return f"{width:.1f} x {height:.1f} mm"


def _mm(tenths: float) -> str:
    return f"{tenths / UNITS_PER_MM:.1f} mm"
