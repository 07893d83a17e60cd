"""Plant, inspect, compare: what is found, what is missed, what is alleged."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from digitize.sewing import Sewing
from planting.clean import clean
from planting.faults import faults
from planting.scenes import Scene, design_of
from render.inspect import Inspection, Piece, inspect
from render.inspection import piece_of
from render.materials.job import make_job
from render.model import Job, Problem, Sewn
from render.preview import sew_design

FABRIC = "twill"
# Sizes planted, in limits; where the limit is 0 they are mm. Between 0.8 and 1.2 nothing is held for
# or against the inspection.
TIMES = (0.3, 0.5, 0.7, 1.3, 1.6, 2.0, 2.5, 3.0)
FROM_ZERO_MM = (-6.0, -2.0, 1.0, 2.0, 4.0, 8.0)
UNCERTAIN = (0.8, 1.2)
PIXEL_MM = 0.05


@dataclass
class Score:
    """Counts of one kind; `wrong` says where each miss and false alarm was."""

    planted: int = 0
    found: int = 0
    true: int = 0
    false: int = 0
    sized: int = 0
    size_right: int = 0
    wrong: list[str] = field(default_factory=list)

    def add(self, other: Score) -> None:
        for one in dataclasses.fields(self):
            setattr(self, one.name, getattr(self, one.name) + getattr(other, one.name))


@cache
def _job(**facts: Any) -> Job:
    return make_job(**facts)


def look(scene: Scene) -> tuple[Piece, Inspection, NDArray[np.int64]]:
    """The scene's inspection, and the stitches of what is planted in it."""
    design, sewing = design_of(scene)
    job = dataclasses.replace(_job(**{"fabric": FABRIC, **scene.job}), blocks=scene.blocks)
    ready = sew_design(design, job)
    name, way = scene.moved
    if name:
        ready = dataclasses.replace(ready, sewn=_moved(ready.sewn, sewing, name, way))
    piece = piece_of(ready, job)
    names = scene.plant.steps if scene.plant is not None else ()
    own = [at for m in sewing.meant if m.name in names for at in (m.first, m.last)]
    if not own:
        return piece, inspect(piece), np.zeros(0, np.int64)
    # With the ties at both ends; where one is left out, what follows counts two less.
    first, last = max(min(own) - 2, 0), max(own) + 2
    if scene.untied:
        first, last = max(first - 2, 0), last - 2
    return piece, inspect(piece), np.arange(first, min(last + 1, len(piece.plan.start_mm)))


def _moved(sewn: Sewn, sewing: Sewing, name: str, way: tuple[float, float]) -> Sewn:
    """The sewing with one step lying so far from where it would."""
    start, end = sewn.start_mm.copy(), sewn.end_mm.copy()
    for meant in (one for one in sewing.meant if one.name == name):
        start[meant.first : meant.last + 1] += way
        end[meant.first : meant.last + 1] += way
    return dataclasses.replace(sewn, start_mm=start, end_mm=end)


def trial(kind: str, seed: int, times: float) -> dict[str, Score]:
    """One plant of one kind: the scores of it and of whatever else was alleged."""
    make, limit, smaller = faults()[kind]
    rng = np.random.default_rng([seed, *kind.encode()])
    size = 0.0 if limit is None else times if limit == 0 else times * limit
    scene = make(rng, size)
    plant = scene.plant
    assert plant is not None
    piece, found, own = look(scene)
    true_mm = plant.measure(piece, own) if plant.measure else plant.size_mm
    where = f"{kind} seed {seed} size {size:.2f}"
    scores = {kind: Score()}
    mine = [one for one in found.problems if one.kind == kind and _there(one, own)]
    if kind != "needless-trim":  # told as a note, always
        mine = [one for one in mine if one.severity != "note"]
    level = _level(limit, smaller, true_mm)
    if level >= 2:
        scores[kind].planted += 1
        scores[kind].found += bool(mine)
        if not mine:
            scores[kind].wrong.append(f"missed: {where}, truly {true_mm}")
    if level >= 1:
        scores[kind].true += len(mine)
        if mine and mine[0].size_mm is not None and true_mm is not None and level >= 1:
            scores[kind].sized += 1
            near = abs(mine[0].size_mm - true_mm) <= max(0.15 * true_mm, PIXEL_MM)
            scores[kind].size_right += near
            if not near:
                scores[kind].wrong.append(f"size {mine[0].size_mm:.2f}, truly {true_mm:.2f}: {where}")
    elif level < 0:
        _hold_against(scores, mine, where)
    # Of pucker nobody knows the truth.
    rest = [
        one for one in found.problems if one not in mine and one.severity != "note" and one.kind != "pucker"
    ]
    _hold_against(scores, [one for one in rest if one.kind not in (kind, *plant.along)], where)
    _hold_against(scores, [one for one in rest if one.kind == kind and not _there(one, own)], where)
    return scores


def _level(limit: float | None, smaller: bool, size: float | None) -> int:
    """2: must be found; 1: may be; 0: too near the limit to say; -1: must not be."""
    if limit is None or size is None:
        return 2
    if limit == 0:
        return 2 if size >= 1.0 else 1 if size > 0.3 else 0 if size > -0.3 else -1
    share = limit / max(size, 1e-6) if smaller else size / limit
    if share >= 2:
        return 2
    return 1 if share > UNCERTAIN[1] else 0 if share >= UNCERTAIN[0] else -1


def _there(problem: Problem, own: NDArray[np.int64]) -> bool:
    first, last = problem.stitches
    return bool(((own >= first) & (own <= last)).any())


def _hold_against(scores: dict[str, Score], problems: Iterable[Problem], where: str) -> None:
    for one in problems:
        score = scores.setdefault(one.kind, Score())
        score.false += 1
        score.wrong.append(f"false {one.severity}: {one.cause} ({where})")


def trials(seed: int, each: int) -> Iterator[tuple[str, int, float]]:
    """Every kind, at each size, so many times."""
    for kind, (_, limit, _) in faults().items():
        sizes: tuple[float, ...] = (1.0,) * 3 if limit is None else FROM_ZERO_MM if limit == 0 else TIMES
        for count in range(each):
            for k, times in enumerate(sizes):
                yield kind, 1000 * seed + 10 * count + k, times


def total(seed: int, each: int) -> dict[str, Score]:
    """The scores of all trials and of as many clean designs, by kind."""
    scores: dict[str, Score] = {kind: Score() for kind in faults()}
    for kind, number, times in trials(seed, each):
        for name, score in trial(kind, number, times).items():
            scores.setdefault(name, Score()).add(score)
    for number in range(10 * each):
        for name, score in clean_trial(1000 * seed + number).items():
            scores.setdefault(name, Score()).add(score)
    return scores


def clean_trial(seed: int) -> dict[str, Score]:
    """What is alleged of a clean design."""
    _, found, _ = look(clean(np.random.default_rng([seed, 7])))
    scores: dict[str, Score] = {}
    alleged = [one for one in found.problems if one.severity != "note" and one.kind != "pucker"]
    _hold_against(scores, alleged, f"clean seed {seed}")
    return scores


def interval(hits: int, of: int) -> tuple[float, float]:
    """Wilson's 95 % interval of a share (Wilson 1927)."""
    if of == 0:
        return 0.0, 1.0
    z, share = 1.96, hits / of
    middle = (share + z * z / (2 * of)) / (1 + z * z / of)
    half = z * (share * (1 - share) / of + z * z / (4 * of * of)) ** 0.5 / (1 + z * z / of)
    return max(middle - half, 0.0), min(middle + half, 1.0)


def table(scores: dict[str, Score]) -> str:
    """Markdown."""
    rows = [
        "| kind | must be found | found | reports | false | sizes within 15 % |",
        "|---|---|---|---|---|---|",
    ]
    for kind, one in scores.items():
        low, high = interval(one.found, one.planted)
        sizes = f"{one.size_right} of {one.sized}" if one.sized else ""
        found = f"{one.found} ({100 * low:.0f}-{100 * high:.0f} %)" if one.planted else ""
        rows.append(
            f"| {kind} | {one.planted or ''} | {found} | {one.true + one.false} | {one.false} | {sizes} |"
        )
    return "\n".join(rows)
