"""Pull and push, object by object: what the cloth does to each, and what brings it back."""

from __future__ import annotations

from dataclasses import dataclass
from math import isnan
from typing import TYPE_CHECKING

import numpy as np

from render.materials.fabrics import edge_under_pile_mm
from render.model import AREA_KINDS
from render.pull.shift import meetings, shifts
from render.sew.band import Band, band
from render.sew.measure import TAIL, measure_object

if TYPE_CHECKING:
    from render.model import ObjectMove, Sewn, SewnObject, SewPlan
    from render.preview import SewnDesign

PULLED = (*AREA_KINDS, "e-stitch", "cross-stitch")  # kinds that have a width of their own
# A column made wider by some share is drawn in by the cloth by about half that share more: found by
# sewing anew columns of 1.5 to 8 mm and fills of 8 to 30 mm.
GROWTH = 0.5


@dataclass(frozen=True, slots=True)
class Range:
    """A predicted number: the smallest that is plausible, the likely one and the largest."""

    low: float
    likely: float
    high: float

    @staticmethod
    def of(low: float, likely: float, high: float) -> Range:
        """In order, for where a strong pull makes a number small."""
        return Range(min(low, likely, high), likely, max(low, likely, high))


@dataclass(frozen=True, slots=True)
class ObjectPull:
    """What becomes of one object, mm.

    Width is along the thread, None as all that follows from it where an object has none. Push is
    what the object gains across the thread, both ends together; `push_ends_mm` what its upper or
    left and its lower or right end gain of that. Shift is how far its thread moves against a
    neighbour's where the two meet, the largest of all neighbours, see `render.pull.shift`; None
    where nothing is near, and for underlay and ties. Compensation is how much wider, in
    all, the object must be programmed to be sewn as wide as it now is programmed.
    """

    part: SewnObject
    centre_mm: tuple[float, float]
    programmed_width_mm: float | None
    sewn_width_mm: Range | None
    pull_in_mm: Range | None
    push_mm: Range | None
    push_ends_mm: tuple[float, float] | None
    shift_mm: Range | None
    compensation_total_mm: Range | None


@dataclass(frozen=True, slots=True, eq=False)
class Pull:
    """All objects of a sewn design, in sewing order, the band around it, and the largest shift.

    `edge_under_pile_mm` is what pile hides of each stitched edge besides. `notes` are those of the
    design and its sewing.
    """

    ready: SewnDesign
    band: Band
    objects: tuple[ObjectPull, ...]
    largest_shift_mm: Range
    edge_under_pile_mm: float
    notes: tuple[str, ...]


def pull_of(ready: SewnDesign, *, topped: bool = False) -> Pull:
    """What the cloth does to each object of a sewn design, with or without a topping on it."""
    sewn, plan = ready.sewn, ready.sewn.plan
    around = band(sewn, ready.holding)
    three = around.low, sewn, around.high
    moves = list(zip(*(_moves(one) for one in three), strict=True))
    shifts = _shifts(plan, three)
    objects = tuple(
        _object(part, sewn, move, shift)
        for part, move, shift in zip(plan.objects, moves, shifts, strict=True)
    )
    found = [one.shift_mm for one in objects if one.shift_mm is not None]
    largest = max(found, key=lambda one: one.likely, default=Range(0.0, 0.0, 0.0))
    hidden = 0.0 if ready.holding is None else edge_under_pile_mm(ready.holding.fabric, topped=topped)
    return Pull(
        ready=ready,
        band=around,
        objects=objects,
        largest_shift_mm=largest,
        edge_under_pile_mm=hidden,
        notes=tuple(dict.fromkeys((*plan.notes, *ready.notes))),
    )


def _moves(sewn: Sewn) -> tuple[ObjectMove, ...]:
    return sewn.objects or tuple(
        measure_object(part, sewn.plan, sewn.start_mm, sewn.end_mm) for part in sewn.plan.objects
    )


def _object(
    part: SewnObject, sewn: Sewn, moves: tuple[ObjectMove, ObjectMove, ObjectMove], shift: Range | None
) -> ObjectPull:
    plan, own = sewn.plan, slice(part.first, part.last + 1)
    points = np.concatenate([plan.start_mm[own], plan.end_mm[own]])
    middle = (points.min(0) + points.max(0)) / 2
    centre = (float(middle[0]), float(middle[1]))
    width = moves[1].programmed_width_mm
    if part.kind not in PULLED or not width > 0:
        return ObjectPull(
            part=part,
            centre_mm=centre,
            programmed_width_mm=None,
            sewn_width_mm=None,
            pull_in_mm=None,
            push_mm=None,
            push_ends_mm=None,
            shift_mm=shift,
            compensation_total_mm=None,
        )
    grown = 1 + GROWTH * _cloth_pull_in(part, sewn) / width
    pull_in = Range.of(*(move.pull_in_mm for move in moves))
    return ObjectPull(
        part=part,
        centre_mm=centre,
        programmed_width_mm=width,
        sewn_width_mm=Range.of(*(move.sewn_width_mm for move in moves)),
        pull_in_mm=pull_in,
        push_mm=Range.of(*(move.push_mm for move in moves)),
        push_ends_mm=_push_ends(part, sewn),
        shift_mm=shift,
        compensation_total_mm=Range(grown * pull_in.low, grown * pull_in.likely, grown * pull_in.high),
    )


def _cloth_pull_in(part: SewnObject, sewn: Sewn) -> float:
    """How much of an object's pull-in, mm, is the cloth's movement: all but the give of the holes."""
    if sewn.give_mm is None:
        return 0.0
    start, end = sewn.start_mm - sewn.give_mm[:, 0], sewn.end_mm - sewn.give_mm[:, 1]
    return measure_object(part, sewn.plan, start, end).pull_in_mm


def _push_ends(part: SewnObject, sewn: Sewn) -> tuple[float, float]:
    """What each end of an object gains across its thread, against its middle, mm."""
    own = slice(part.first, part.last + 1)
    points = np.concatenate([sewn.plan.start_mm[own], sewn.plan.end_mm[own]])
    moved = np.concatenate([sewn.start_mm[own], sewn.end_mm[own]]) - points
    angle = np.deg2rad(part.angle_deg)
    across = np.array([-np.sin(angle), np.cos(angle)])
    # Upper before lower, left before right, however the angle is given.
    if across[1] < -1e-9 or (abs(across[1]) <= 1e-9 and across[0] < 0):
        across = -across
    along, change = points @ across, moved @ across
    low, high = np.quantile(along, [TAIL, 1 - TAIL])
    mean = change.mean()
    return float(mean - change[along <= low].mean()), float(change[along >= high].mean() - mean)


def _shifts(plan: SewPlan, three: tuple[Sewn, ...]) -> list[Range | None]:
    met = meetings(plan)
    found = zip(*(shifts(sewn, met).tolist() for sewn in three), strict=True)
    return [None if isnan(likely) else Range.of(low, likely, high) for low, likely, high in found]
