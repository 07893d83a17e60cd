"""The same design on several cloths, with the numbers that tell them apart."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from render.errors import UsageError
from render.materials.fabrics import fabric_names, load_fabric
from render.model import SATIN_KINDS
from render.preview import sew_design

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from render.model import Design, Job, Sewn
    from render.preview import SewnDesign

LEVELS = ("low", "medium", "high")
COLUMNS = (*SATIN_KINDS, "e-stitch")


@dataclass(frozen=True, slots=True, eq=False)
class OnCloth:
    """The design sewn on one cloth: the job for it, and the numbers as JSON can hold them."""

    job: Job
    ready: SewnDesign
    figures: dict[str, Any]


def compare_cloths(design: Design, job: Job, fabrics: Sequence[str]) -> tuple[OnCloth, ...]:
    """Sew the design on each of the fabrics, everything else as in the job.

    Each cloth has its own colour, the stabiliser that is usual for it unless the job names one,
    and the same hoop. Raises UsageError for fewer than two fabrics or one named twice, InputError for
    one that is not known.
    """
    if len(fabrics) < 2:
        raise UsageError("one cloth has nothing to be compared with: name two or more after --fabrics")
    twice = sorted({name for name in fabrics if fabrics.count(name) > 1})
    if twice:
        raise UsageError(f"{', '.join(twice)} stands twice in --fabrics: name each cloth once")
    unknown = [name for name in fabrics if name not in fabric_names() and "/" not in name and "." not in name]
    if len(unknown) > 1:
        raise UsageError(f"there are no fabrics {', '.join(unknown)}: choose {', '.join(fabric_names())}")
    return tuple(_on(design, replace(job, fabric=load_fabric(name))) for name in fabrics)


def _on(design: Design, job: Job) -> OnCloth:
    ready = sew_design(design, job)
    return OnCloth(job, ready, _figures(ready, job))


def _figures(ready: SewnDesign, job: Job) -> dict[str, Any]:
    """What the cloth does to the design, mm and shares."""
    sewn, holding = ready.sewn, ready.holding
    under = None if holding is None or holding.stabiliser is None else holding.stabiliser.name
    ends = np.concatenate([sewn.start_mm, sewn.end_mm])
    wide, high = np.ptp(ends, 0).tolist()
    kinds = [part.kind for part in sewn.plan.objects]
    pull = [move.pull_in_mm for move in sewn.objects if kinds[move.index] in COLUMNS]
    shift = [float(np.hypot(*move.shift_mm)) for move in sewn.objects]
    return {
        "fabric": job.fabric.name,
        "title": job.fabric.title,
        "stabiliser": under or "none",
        "width_mm": round(wide, 2),
        "height_mm": round(high, 2),
        "satin_pull_in_mm": round(float(np.mean(pull)), 3) if pull else None,
        "largest_shift_mm": round(max(shift, default=0.0), 3),
        "pucker_share": _pucker(sewn),
        "notes": list(sewn.notes),
    }


def _between(line_mm: NDArray[np.floating[Any]], low_mm: float, high_mm: float) -> NDArray[np.bool_]:
    """Which of the lines lie in a stretch; the nearest to its middle where it lies between two."""
    inside: NDArray[np.bool_] = (line_mm >= low_mm) & (line_mm <= high_mm)
    if not inside.any():
        inside[np.abs(line_mm - (low_mm + high_mm) / 2).argmin()] = True
    return inside


def _pucker(sewn: Sewn) -> dict[str, float]:
    """Share of the cloth within the design's box at each level of pucker."""
    if sewn.cloth is None:
        return {}
    left, top, right, bottom = sewn.plan.box_mm
    rows, cols = sewn.cloth.pucker.shape
    x = sewn.cloth.origin_mm[0] + np.arange(cols) * sewn.cloth.cell_mm
    y = sewn.cloth.origin_mm[1] + np.arange(rows) * sewn.cloth.cell_mm
    within = sewn.cloth.pucker[np.ix_(_between(y, top, bottom), _between(x, left, right))]
    return {name: round(float((within == level).mean()), 3) for level, name in enumerate(LEVELS)}
