"""The crest with faults planted on purpose, and the list of them."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from designs import crest, figures
from designs.club import CREAM, NAVY, Pen, Step, sew
from digitize.fill import fill
from digitize.parts import Part
from digitize.running import running
from digitize.sewing import Sewing
from digitize.shapes import smooth, symmetric

KINDS = (
    "sequence",
    "gap",
    "thin-cover",
    "crowding",
    "short-stitch",
    "long-stitch",
    "one-way-pull",
    "uncut-jump",
)
FILL_DEG = 20.0  # every fill at one angle
THIN_MM = 0.9  # between the rows of the thin fill
GAP_BAND_MM = (29.0, 38.2)  # the band begins 0.9 mm outside the inner ring
NOSE_TIMES = 4
SHORT_MM, LONG_MM = 0.3, 13.0
DRAGGED_MM = (2, 4, 8, 15, 25, 40)  # wanted lengths of uncut jumps: the ways nearest to them


@dataclass(frozen=True, slots=True)
class Fault:
    """What was planted, where (a point in it) and how large; `stitches` first and last, counted
    from 0. Of a jump they are the last before it and the first after it."""

    kind: str
    what: str
    where_mm: tuple[float, float]
    size_mm: float
    stitches: tuple[int, int]


@dataclass(frozen=True, slots=True, eq=False)
class Faulty:
    """The faulty design and its faults."""

    sewing: Sewing
    faults: list[Fault]


def crest_faulty(kinds: Collection[str] = KINDS) -> Faulty:
    """Plant these kinds of faults, sew, and say where they ended up."""
    steps = list(_planted(kinds))
    dragged = _dragged(steps) if "uncut-jump" in kinds else set()
    sewing = sew([replace(step, cut=i not in dragged) for i, step in enumerate(steps)])
    return Faulty(sewing, [*_faults(sewing, kinds), *_jumps(sewing)])


def _planted(kinds: Collection[str]) -> Iterator[Step]:
    """The crest's steps with all faults but the jumps."""
    pen = Pen(fill_deg=FILL_DEG if "one-way-pull" in kinds else None)
    *steps, border = crest.steps(pen)
    for step in steps:
        if step.name == "band":
            if "sequence" in kinds:
                yield border
            yield crest.band(pen, GAP_BAND_MM) if "gap" in kinds else step
        elif step.name == "belly" and "thin-cover" in kinds:
            thin = fill(
                [symmetric(figures.BELLY)], angle_deg=FILL_DEG, row_spacing_mm=THIN_MM, underlay=False
            )
            yield Step("belly", CREAM, thin)
        elif step.name == "nose" and "crowding" in kinds:
            yield from [step] * NOSE_TIMES
        elif step.name == "right whisker 1" and "short-stitch" in kinds:
            yield Step(step.name, NAVY, running(smooth(figures.WHISKERS[0]), SHORT_MM))
        elif step.name == "wave 3" and "long-stitch" in kinds:
            yield step
            over = np.column_stack([np.arange(-1.5, 2) * LONG_MM, np.full(4, crest.WAVES[1][0])])
            yield Step("long stitches", NAVY, [Part("running", over)])
        else:
            yield step
    if "sequence" not in kinds:
        yield border


def _dragged(steps: list[Step]) -> set[int]:
    """Numbers of the steps before which the thread is left uncut."""
    ways: dict[int, float] = {}
    for i, (before, step) in enumerate(pairwise(steps), start=1):
        pair = sew([before, step])
        if before.thread == step.thread and pair.ways:
            ways[i] = pair.ways[0].length_mm
    chosen: set[int] = set()
    for wanted in DRAGGED_MM:
        chosen.add(min(set(ways) - chosen, key=lambda i: (abs(ways[i] - wanted), i)))
    return chosen


def _faults(sewing: Sewing, kinds: Collection[str]) -> Iterator[Fault]:
    """All but the jumps."""
    rim = (crest.INNER_RING_MM[1] + GAP_BAND_MM[0]) / 2
    # Kind, what, the step it is in, how large, and where, if that is not the middle of the step.
    planted: list[tuple[str, str, str, float, tuple[float, float] | None]] = [
        ("sequence", "the border is sewn before its fill", "outer ring", 3.0, (38.9, 0.0)),
        ("gap", "cloth shows all round between the inner ring and the band", "band", 0.9, (rim, 0.0)),
        ("thin-cover", f"rows {THIN_MM} mm apart, and no underlay", "belly", THIN_MM, None),
        ("crowding", f"the nose is sewn {NOSE_TIMES} times over", "nose", 5.2, None),
        ("short-stitch", f"stitches of {SHORT_MM} mm", "right whisker 1", SHORT_MM, None),
        ("long-stitch", f"three stitches of {LONG_MM:g} mm", "long stitches", LONG_MM, None),
    ]
    for kind, what, name, size_mm, where in planted:
        if kind in kinds:
            points = np.concatenate([m.part.points_mm for m in sewing.meant if m.name == name])
            x, y = where or points.mean(axis=0).tolist()
            yield Fault(kind, what, (round(x, 1) + 0.0, round(y, 1) + 0.0), size_mm, _range(sewing, name))
    if "one-way-pull" in kinds:
        fills = [m for m in sewing.meant if m.part.kind == "fill"]
        what = f"all {len(fills)} fills run at {FILL_DEG:g} degrees"
        span = (fills[0].first, fills[-1].last)
        yield Fault("one-way-pull", what, (0.0, 0.0), 2 * crest.BAND_MM[1], span)


def _range(sewing: Sewing, name: str) -> tuple[int, int]:
    meant = [m for m in sewing.meant if m.name == name]
    return meant[0].first, meant[-1].last


def _jumps(sewing: Sewing) -> list[Fault]:
    return [
        Fault(
            "uncut-jump",
            f"thread dragged on to {way.name}, to {way.to_mm[0]:g}, {way.to_mm[1]:g}",
            way.from_mm,
            round(way.length_mm, 1),
            (way.after_stitch, way.after_stitch + 1),
        )
        for way in sewing.ways
        if not way.cut
    ]


def fault_list(faults: list[Fault]) -> str:
    """TOML: a table a fault."""
    tables = "\n".join(
        f'[[fault]]\nkind = "{f.kind}"\nwhat = "{f.what}"\n'
        f"where_mm = [{f.where_mm[0]:g}, {f.where_mm[1]:g}]\nsize_mm = {f.size_mm:g}\n"
        f"stitches = [{f.stitches[0]}, {f.stitches[1]}]\n"
        for f in faults
    )
    return (
        "# Faults planted in this design: lengths in mm, stitches counted from 0 in sewing order.\n"
        "# Of a jump, the stitches are the last before it and the first after it.\n\n" + tables
    )
