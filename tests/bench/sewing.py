"""How long sewing takes by stitches and by the grid: python -m tests.bench.sewing [FOLDER].

Prints the table and draws the processor's seconds, which others on the machine change little, with both
axes in powers of ten, into FOLDER (docs).
"""

from __future__ import annotations

import math
import sys
import tempfile
import time
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path
from typing import Any

SIZES = (1_000, 3_000, 10_000, 30_000, 100_000, 200_000)
CELLS_MM = (4.0, 3.0, 2.0, 1.5, 1.0, 0.75)
GRID_STITCHES = 10_000
REPEATS = 3
ROOM_PX = (110, 60, 90, 60)  # left, top, bottom, right
PLOT_PX = (760, 520)


def main(folder: Path) -> None:
    """Measure, print, draw."""
    from render.materials.job import make_job
    from render.materials.stabilisers import holding_for
    from render.plan import plan
    from render.read import read_design
    from render.sew import sew
    from tests.bench.__main__ import write_design

    job = make_job()

    def seconds(count: int, cell_mm: float | None, repeats: int) -> tuple[float, float, int]:
        with tempfile.TemporaryDirectory() as made:
            design = read_design(write_design(Path(made) / "b.dst", count))
        planned = plan(design, job.machine)
        holding = holding_for(job, planned.box_mm)
        took, nodes = [], 0
        for _ in range(repeats):
            began, busy = time.perf_counter(), time.process_time()
            sewn = sew(planned, holding, cell_mm=cell_mm)
            took.append((time.process_time() - busy, time.perf_counter() - began))
            assert sewn.cloth is not None
            nodes = int(sewn.cloth.pucker.size)
        return (*min(took), nodes)

    seconds(1_000, None, 1)  # loads kernels
    by_stitches = [(count, *seconds(count, None, REPEATS if count <= 30_000 else 1)[:2]) for count in SIZES]
    by_grid = [seconds(GRID_STITCHES, cell, REPEATS) for cell in CELLS_MM]
    print("| stitches | seconds of the processor | microseconds a stitch | of the clock |\n|---|---|---|---|")
    for count, busy, took in by_stitches:
        print(f"| {count:,} | {busy:.3f} | {1e6 * busy / count:.0f} | {took:.3f} |")
    print(f"\n| cell, mm ({GRID_STITCHES:,} stitches) | cells over the hoop | seconds |\n|---|---|---|")
    for cell, (busy, _, nodes) in zip(CELLS_MM, by_grid, strict=True):
        print(f"| {cell:g} | {nodes:,} | {busy:.2f} |")
    draw(
        folder / "sewing-by-stitches.png",
        "processor seconds by stitches",
        [(count, busy) for count, busy, _ in by_stitches],
    )
    draw(
        folder / "sewing-by-grid.png",
        f"processor seconds by cells over the hoop, {GRID_STITCHES:,} stitches",
        [(nodes, busy) for busy, _, nodes in by_grid],
    )


def draw(path: Path, title: str, points: Sequence[tuple[float, float]]) -> None:
    """A curve with its points, and a line that grows in proportion to compare with."""
    from render.compose.lettering import draw_text, text_width_px
    from render.compose.marks import disc, line
    from render.compose.page import MILD, paper
    from render.model import Picture
    from render.write.picture import write_picture

    left, top, bottom, right = ROOM_PX
    wide, high = PLOT_PX
    page = paper(top + high + bottom, left + wide + right)
    spans = [_decades([point[axis] for point in points]) for axis in (0, 1)]

    def place(x: float, y: float) -> tuple[float, float]:
        across = (math.log10(x) - spans[0][0]) / (spans[0][1] - spans[0][0])
        up = (math.log10(y) - spans[1][0]) / (spans[1][1] - spans[1][0])
        return top + high * (1 - up), left + wide * across

    for axis in (0, 1):
        for power in range(math.ceil(spans[axis][0]), math.floor(spans[axis][1]) + 1):
            ends = [[10.0 ** spans[0][0], 10.0 ** spans[1][0]], [10.0 ** spans[0][1], 10.0 ** spans[1][1]]]
            for end in ends:
                end[axis] = 10.0**power
            line(page, place(*ends[0]), place(*ends[1]), (0.8, 0.8, 0.8), width_px=1)
            row, col = place(*ends[0])
            words = f"{10**power:,}" if power >= 0 else f"{10.0**power:g}"
            at = (row + 12, col - text_width_px(words, 22) / 2) if axis == 0 else (row - 12, 12.0)
            draw_text(page, at, words, 22)
    grey: Any = (0.6, 0.6, 0.6)
    each = points[-1][1] / points[-1][0]
    from_x = max(points[0][0], 10.0 ** spans[1][0] / each)  # further down it would leave the frame
    line(page, place(from_x, from_x * each), place(*points[-1]), grey, width_px=2)
    for one, other in pairwise(points):
        line(page, place(*one), place(*other), MILD, width_px=3)
    for point in points:
        disc(page, place(*point), 7, MILD)
    draw_text(page, (14, left), title, 28, bold=True)
    write_picture(Picture(page, 96.0), path, force=True)


def _decades(values: list[float]) -> tuple[float, float]:
    """Whole powers of ten around the values."""
    return math.floor(math.log10(min(values)) - 0.15), math.ceil(math.log10(max(values)) + 0.05)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path("docs"))
