"""What a digitizer's revision changed: objects, stitches, faults and time, old against new."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import linear_sum_assignment

if TYPE_CHECKING:
    from render.inspect import Inspection
    from render.model import Floats, Problem, SewnObject, SewPlan

NEAR_MM = 3.0  # objects and faults further apart are not the same one, moved
GRID_PER_MM = 10  # stitch files place needle points to 0.1 mm


@dataclass(frozen=True, slots=True)
class ObjectChange:
    """An object of the old plan, of the new one, or of both where it was altered; `words` says how."""

    old: SewnObject | None
    new: SewnObject | None
    where_mm: tuple[float, float]
    words: str


@dataclass(frozen=True, slots=True)
class Changes:
    """Everything that differs. `moved_mm` is by how much the new design lies elsewhere as a whole;
    problems and objects of the old one are given where they would lie in the new."""

    moved_mm: tuple[float, float]
    stitches_kept: int
    stitches_removed: int
    stitches_added: int
    objects: tuple[ObjectChange, ...]
    faults_gone: tuple[Problem, ...]
    faults_new: tuple[Problem, ...]
    faults_kept: int


def compare_plans(old: SewPlan, new: SewPlan, before: Inspection, after: Inspection) -> Changes:
    """What became of the old plan and of its faults in the new one."""
    moved, kept = _moved(old, new)
    gone, fresh, same = _faults(before.problems, after.problems, moved)
    return Changes(
        moved_mm=(float(moved[0]), float(moved[1])),
        stitches_kept=kept,
        stitches_removed=len(old.start_mm) - kept,
        stitches_added=len(new.start_mm) - kept,
        objects=tuple(_objects(old, new, moved)),
        faults_gone=gone,
        faults_new=fresh,
        faults_kept=same,
    )


def _moved(old: SewPlan, new: SewPlan) -> tuple[Floats, int]:
    """How far the new design lies from the old one as a whole, and how many stitches are the same then."""
    middle = [
        np.array([(p.box_mm[0] + p.box_mm[2]) / 2, (p.box_mm[1] + p.box_mm[3]) / 2]) for p in (old, new)
    ]
    ways = [np.zeros(2), middle[1] - middle[0], new.start_mm[0] - old.start_mm[0]]
    counts = [_kept(old, new, way) for way in ways]
    best = int(np.argmax(counts))
    return ways[best], counts[best]


def _kept(old: SewPlan, new: SewPlan, moved: Floats) -> int:
    """How many stitches of the old plan the new one has, too, in the same direction."""

    def names(plan: SewPlan, shift: Floats) -> Counter[bytes]:
        ends = np.concatenate([plan.start_mm, plan.end_mm], 1) + np.tile(shift, 2)
        rows = np.rint(ends * GRID_PER_MM).astype(np.int32)
        return Counter(row.tobytes() for row in rows)

    return sum((names(old, moved) & names(new, np.zeros(2))).values())


def _middle(plan: SewPlan, part: SewnObject) -> Floats:
    own = slice(part.first, part.last + 1)
    points = np.concatenate([plan.start_mm[own], plan.end_mm[own]])
    middle: Floats = (points.min(0) + points.max(0)) / 2
    return middle


def _objects(old: SewPlan, new: SewPlan, moved: Floats) -> list[ObjectChange]:
    """Objects that came, went or were altered, the largest first; ties are part of what they tie."""
    olds, news = ([part for part in plan.objects if part.kind != "tie"] for plan in (old, new))
    where_old = np.array([_middle(old, part) + moved for part in olds]).reshape(-1, 2)
    where_new = np.array([_middle(new, part) for part in news]).reshape(-1, 2)
    pairs = _pairs(olds, news, where_old, where_new)
    became = _blocks([(olds[i].colour_block, news[j].colour_block) for i, j in pairs])
    found = []
    for i, j in pairs:
        same = _same(old, olds[i], new, news[j], moved)
        words = _difference(olds[i], news[j], where_new[j] - where_old[i], became, same=same)
        if words:
            found.append(ObjectChange(olds[i], news[j], _point(where_new[j]), words))
    left = set(range(len(olds))) - {i for i, _ in pairs}
    came = set(range(len(news))) - {j for _, j in pairs}
    found += [ObjectChange(olds[i], None, _point(where_old[i]), "taken out") for i in sorted(left)]
    found += [ObjectChange(None, news[j], _point(where_new[j]), "added") for j in sorted(came)]
    return sorted(found, key=_size, reverse=True)


def _size(change: ObjectChange) -> int:
    """Stitches of the larger of the two objects."""
    return max(part.last - part.first + 1 for part in (change.old, change.new) if part is not None)


def _pairs(
    olds: list[SewnObject], news: list[SewnObject], where_old: Floats, where_new: Floats
) -> list[tuple[int, int]]:
    """Which old object became which new one: of one kind, and nearest and most alike in size and order."""
    stitches = [np.array([part.last - part.first + 1 for part in parts], float) for parts in (olds, news)]
    order = [np.linspace(0, 1, len(parts)) for parts in (olds, news)]
    found: list[tuple[int, int]] = []
    for kind in {part.kind for part in olds}:
        own = [np.flatnonzero([part.kind == kind for part in parts]) for parts in (olds, news)]
        before, after = own[0][:, None], own[1]
        away = np.hypot(*(where_old[before] - where_new[after]).transpose(2, 0, 1))
        size = np.abs(np.log(stitches[0][before] / stitches[1][after]))
        cost = away + 2 * size + 2 * np.abs(order[0][before] - order[1][after])
        rows, cols = linear_sum_assignment(cost)
        near = away[rows, cols] <= NEAR_MM
        found += zip(own[0][rows[near]].tolist(), own[1][cols[near]].tolist(), strict=True)
    return sorted(found)


def _same(old: SewPlan, one: SewnObject, new: SewPlan, other: SewnObject, moved: Floats) -> bool:
    """Whether two objects are the same stitches in the same order."""
    if one.last - one.first != other.last - other.first:
        return False
    a = np.concatenate([old.start_mm[one.first : one.last + 1], old.end_mm[one.first : one.last + 1]]) + moved
    b = np.concatenate([new.start_mm[other.first : other.last + 1], new.end_mm[other.first : other.last + 1]])
    return bool((np.abs(a - b) < 0.5 / GRID_PER_MM).all())


def _blocks(pairs: list[tuple[int, int]]) -> dict[int, int]:
    """Which new block each old one has become: where most of its objects are now."""
    return {
        block: Counter(new for old, new in pairs if old == block).most_common(1)[0][0] for block, _ in pairs
    }


def _difference(old: SewnObject, new: SewnObject, away: Floats, became: dict[int, int], *, same: bool) -> str:
    """How an object was altered, in words; nothing where it was not."""
    parts = []
    if became[old.colour_block] != new.colour_block:
        parts.append(f"sewn in block {new.colour_block + 1} instead of {old.colour_block + 1}")
    if same:
        return ", ".join(parts)
    counts = [part.last - part.first + 1 for part in (old, new)]
    if counts[0] != counts[1]:
        parts.append(f"{counts[0]:,} stitches became {counts[1]:,}")
    for what, before, after, least in (
        ("row spacing", old.row_spacing_mm, new.row_spacing_mm, 0.02),
        ("width", old.width_mm, new.width_mm, 0.05),
        ("length", old.length_mm, new.length_mm, 0.2),
    ):
        if abs(after - before) >= least:  # never where one is not a number
            parts.append(f"{what} {before:.2f} became {after:.2f} mm")
    turn = abs((new.angle_deg - old.angle_deg + 90) % 180 - 90)
    if turn >= 2:
        parts.append(f"angle {old.angle_deg:.0f} became {new.angle_deg:.0f} degrees")
    if np.hypot(*away) >= 1.0 / GRID_PER_MM:
        parts.append(f"moved by {np.hypot(*away):.1f} mm")
    return ", ".join(parts) or "other needle points"


def _faults(
    before: tuple[Problem, ...], after: tuple[Problem, ...], moved: Floats
) -> tuple[tuple[Problem, ...], tuple[Problem, ...], int]:
    """Faults that are gone, those that are new, and how many stayed: of one kind and near each other."""
    left = list(after)
    gone = []
    for one in before:
        place = np.array(one.where_mm) + moved
        near = [
            (float(np.hypot(*(place - other.where_mm))), at)
            for at, other in enumerate(left)
            if other.kind == one.kind
        ]
        if near and min(near)[0] <= NEAR_MM:
            left.pop(min(near)[1])
        else:
            gone.append(one)
    return tuple(gone), tuple(left), len(before) - len(gone)


def _point(place: Floats) -> tuple[float, float]:
    return float(place[0]), float(place[1])
