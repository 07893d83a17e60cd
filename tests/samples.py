"""Small pieces of embroidery made by hand, for the tests of drawing."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any
from unittest.mock import patch

import numpy as np
from numpy.typing import NDArray

from render.compose import compose
from render.materials.fibres import load_fibres
from render.model import (
    ColourBlock,
    Fabric,
    Job,
    Lamp,
    Layers,
    Light,
    Machine,
    Sewn,
    SewnObject,
    SewPlan,
    Thread,
    Travel,
    Window,
)

LIGHT = Light(
    "two-lamps",
    "Two lamps",
    (Lamp(225, 47, 20, 2.15, (1, 1, 1)), Lamp(45, 35, 30, 0.35, (1, 1, 1))),
    (0.5, 0.5, 0.5),
)
FABRIC = Fabric("flat", "Flat", (0.1, 0.2, 0.4), 0.8, "cut-away", {}, 1500, 900, 0.4, 200, 0.26, 0.008, 50)
MACHINE = Machine("unknown", "", None, None, None, 15, (300, 200), 800, 600)
JOB = Job(FABRIC, LIGHT, MACHINE)
# 40 wt is tex 26.7 to the trade; viscose 1.49 g/cm3 (Morton & Hearle 2008, Table 5.1).
RAYON = {"kind": "rayon", "tex": 26.7, "density_g_per_cm3": 1.49, "packing": 0.65}
RED, CREAM, GOLD = (
    Thread(colour, **RAYON) for colour in [(0.70, 0.12, 0.16), (0.93, 0.92, 0.88), (0.88, 0.66, 0.18)]
)


@dataclass(frozen=True)
class Part:
    """A run of needle points (N + 1, 2) in mm: one object of one colour block."""

    points_mm: NDArray[np.float64]
    kind: Any
    block: int = 0


def sewn_of(*parts: Part, cut: Any = "yes") -> Sewn:
    """Sew the parts in order; `cut` says whether the travels between them are cut."""
    starts = [p.points_mm[:-1] for p in parts]
    ends = [p.points_mm[1:] for p in parts]
    index = np.repeat(np.arange(len(parts), dtype=np.int32), [len(s) for s in starts])
    block = np.array([p.block for p in parts], np.int32)[index]
    first = np.concatenate([[0], np.cumsum([len(s) for s in starts])])
    objects = tuple(
        SewnObject(i, p.kind, int(first[i]), int(first[i + 1]) - 1, p.block, 0.4, 0.0, 1.0, 1.0)
        for i, p in enumerate(parts)
    )
    travels = tuple(
        Travel(
            tuple(before.points_mm[-1].tolist()),
            tuple(after.points_mm[0].tolist()),
            int(first[i + 1]) - 1,
            after.block,
            cut,
            "by hand",
        )
        for i, (before, after) in enumerate(itertools.pairwise(parts))
    )
    start, end = np.concatenate(starts), np.concatenate(ends)
    breaks = np.zeros(len(start), bool)
    breaks[first[:-1]] = True
    blocks = tuple(
        ColourBlock(b, int(np.flatnonzero(block == b)[0]), int(np.flatnonzero(block == b)[-1]), "end")
        for b in sorted(set(block.tolist()))
    )
    nowhere = np.zeros((0, 2)), np.zeros(0, np.int32)
    plan = SewPlan(start, end, breaks, block, index, travels, blocks, objects, *nowhere, 0)
    return Sewn(plan, start, end)


def layered() -> Sewn:
    """A fill, a satin of another colour over its middle, and a slanted run over both."""
    return sewn_of(
        Part(fill(6.0, 5.0), "fill", 0),
        Part(satin(4.0, 2.0), "satin", 1),
        Part(running((-3.5, -2.0), (3.5, 2.0)), "running", 2),
    )


def satin(
    length_mm: float, width_mm: float, *, spacing_mm: float = 0.4, bend: float = 0.0
) -> NDArray[np.float64]:
    """A zigzag column along x about the origin; `spacing_mm` between needle points on one edge."""
    count = round(2 * length_mm / spacing_mm) + 1
    x = np.linspace(-length_mm / 2, length_mm / 2, count)
    y = width_mm / 2 * np.where(np.arange(count) % 2 == 0, -1.0, 1.0)
    if not bend:
        return np.stack([x, y], 1)
    radius = length_mm / bend
    return np.stack([(radius + y) * np.sin(x / radius), radius - (radius + y) * np.cos(x / radius)], 1)


def fill(
    width_mm: float, height_mm: float, *, spacing_mm: float = 0.4, stitch_mm: float = 4.0
) -> NDArray[np.float64]:
    """Rows of stitches along x about the origin, sewn back and forth, needle points staggered."""
    points: list[tuple[float, float]] = []
    half = width_mm / 2
    for row, y in enumerate(np.arange(-height_mm / 2, height_mm / 2 + 1e-9, spacing_mm)):
        inner = np.arange(-half + stitch_mm * (0.25 + 0.25 * (row % 3)), half - 0.5, stitch_mm)
        xs = np.concatenate([[-half], inner, [half]])
        points += [(float(x), float(y)) for x in (xs if row % 2 == 0 else xs[::-1])]
    return np.array(points)


def running(*corners: tuple[float, float], stitch_mm: float = 2.5) -> NDArray[np.float64]:
    """Straight stitches along a path of corners."""
    points = [np.array(corners[0], float)]
    for start, end in itertools.pairwise(corners):
        run = np.subtract(end, start)
        steps = max(1, round(float(np.hypot(*run)) / stitch_mm))
        points += [np.add(start, run * k / steps) for k in range(1, steps + 1)]
    return np.array(points)


def turned(points_mm: NDArray[np.float64], degrees: float) -> NDArray[np.float64]:
    """Points turned about the origin, clockwise on the screen; quarter turns are exact."""
    quarters, rest = divmod(degrees % 360.0, 90.0)
    c, s = np.cos(np.deg2rad(rest)), np.sin(np.deg2rad(rest))
    x, y = points_mm[:, 0], points_mm[:, 1]
    x, y = x * c - y * s, x * s + y * c
    for _ in range(int(quarters)):
        x, y = -y, x
    return np.stack([x, y], 1)


def moved_sewn(sewn: Sewn, change: Any) -> Sewn:
    """The same sewing with every point mapped by `change((N, 2)) -> (N, 2)`."""
    plan = sewn.plan
    travels = tuple(
        Travel(
            tuple(change(np.array([t.from_mm]))[0].tolist()),
            tuple(change(np.array([t.to_mm]))[0].tolist()),
            t.after_stitch,
            t.colour_block,
            t.cut,
            t.reason,
        )
        for t in plan.travels
    )
    start, end = change(plan.start_mm), change(plan.end_mm)
    again = SewPlan(
        start,
        end,
        plan.thread_breaks,
        plan.colour_block,
        plan.object_index,
        travels,
        plan.blocks,
        plan.objects,
        plan.sequins_mm,
        plan.sequin_block,
        plan.trims,
    )
    return Sewn(again, start, end)


def level_ground(below_linear: NDArray[np.float64]) -> Any:
    """What drawing asks of a cloth without structure that does not give way, with such light below thread."""
    return SimpleNamespace(
        pucker=None,
        bed_mm=0.0,
        crushed=1.0,
        pieces=(),
        highest_mm=0.0,
        pile_mm=0.0,
        stray=None,
        below_linear=below_linear,
    )


def draw_flat(
    sewn: Sewn,
    window: Window,
    *,
    threads: tuple[Thread, ...] = (RED, CREAM, GOLD),
    job: Job = JOB,
    light: Light | None = None,
    cloth_linear: tuple[float, float, float] = (0.02, 0.04, 0.12),
    hidden: NDArray[np.bool_] | None = None,
    **options: Any,
) -> Layers:
    """Draw on a cloth without any structure, so that only thread is tested."""
    from render.draw.cloth import ClothLayer
    from render.draw.stack import stack_strands
    from render.draw.strands import strands_of
    from render.draw.tiles import draw_layers

    def flat(
        _ground: object, _window: Window, rect: tuple[int, int, int, int], _wanted: NDArray[np.bool_]
    ) -> ClothLayer:
        light_linear = np.empty((*rect[2:], 3), np.float32)
        light_linear[:] = cloth_linear
        return ClothLayer(light_linear, np.zeros(rect[2:], np.float32))

    strands = strands_of(sewn, threads, job, hidden, hand=options.get("twist", 1.0))
    with patch("render.draw.layers.lay_ground", flat):
        return draw_layers(
            strands,
            stack_strands(strands),
            level_ground(np.array(cloth_linear)),
            threads=threads,
            lobes=load_fibres(),
            light=light or job.light,
            window=window,
            **options,
        )


def picture_of(layers: Layers, window: Window, *, transparent: bool = False) -> NDArray[np.uint8]:
    """The pixels of the composed picture."""
    return compose(layers, window, transparent=transparent).pixels
