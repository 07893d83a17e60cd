"""A test swatch: satin columns that show how a machine and a cloth pull, for a shop to measure.

Columns of 2, 3, 4, 6 and 8 mm at one spacing, a dense one of 5 mm and an open one of 7 mm; three
of each stand, their stitches across the arrow, and three lie, their stitches along it. The digit
beside a column is its width in mm, so no two of a row look alike. Columns have no underlay: it
would hold the cloth for the satin, and what it pulls itself would be measured with the column.
Each is cut loose from its neighbours. Everything lies on the 0.1 mm grid of stitch files, so that
what is said here is what the file holds.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Literal

import numpy as np

from render.model import Command
from render.swatch.needle import Needle

if TYPE_CHECKING:
    from render.model import Design, Floats

Way = Literal["across", "along"]

# Width to spacing, mm: spacing of penetrations on one edge (0.4 is common practice, no source).
SPACING_MM = {2: 0.4, 3: 0.4, 4: 0.4, 5: 0.3, 6: 0.4, 7: 0.6, 8: 0.4}
LENGTH_MM = 10.8  # a whole number of stitches at each spacing, and three places to measure
READ_AT = (0.25, 0.5, 0.75)  # of a column's length, clear of its ends
GAP_MM = 2.2  # room for the jaws of a calliper
DIGIT_MM, ROW_DIGIT_MM = (1.8, 3.2), (2.6, 4.6)
MARK_MM, CLEAR_MM = 1.0, 0.8  # legs of the mark that shows the width; between digit, mark and column
HEAD_MM = MARK_MM + 2 * CLEAR_MM  # from the digit to the column
ARROW_MM, BARB_MM = 20.0, 3.0
LINE_MM, TICK_MM = 40.0, 2.0  # the line that checks the scale

# Strokes of each digit in a box of 1 by 1, y down, without lifting the needle.
DIGITS: dict[int, tuple[tuple[float, float], ...]] = {
    1: ((0.1, 0.25), (0.6, 0), (0.6, 1)),
    2: ((0, 0), (1, 0), (1, 0.5), (0, 0.5), (0, 1), (1, 1)),
    3: ((0, 0), (1, 0), (1, 0.5), (0.3, 0.5), (1, 0.5), (1, 1), (0, 1)),
    4: ((0.1, 0), (0, 0.6), (1, 0.6), (0.8, 0.6), (0.8, 0), (0.8, 1)),
    5: ((1, 0), (0, 0), (0, 0.45), (1, 0.45), (1, 1), (0, 1)),
    6: ((1, 0), (0, 0), (0, 0.5), (1, 0.5), (1, 1), (0, 1), (0, 0.5)),
    7: ((0, 0), (1, 0), (0.4, 1)),
    8: ((0, 0.5), (1, 0.5), (1, 0), (0, 0), (0, 1), (1, 1), (1, 0.5)),
}
# And the way on, along strokes already there, to the foot of a digit above its mark, or to the
# right side of one beside it.
_ON: dict[Way, dict[int, tuple[tuple[float, float], ...]]] = {
    "across": {2: ((0.5, 1),), 3: ((0.5, 1),), 5: ((0.5, 1),), 6: ((0, 1), (0.5, 1)), 8: ((1, 1), (0.5, 1))},
    "along": {
        2: ((0, 1), (0, 0.5), (1, 0.5)),
        3: ((1, 1), (1, 0.5)),
        4: ((0.8, 0.6), (1, 0.6)),
        5: ((1, 1), (1, 0.45)),
        6: ((1, 0.5),),
        7: ((0.7, 0.5),),
    },
}


@dataclass(frozen=True, slots=True)
class Column:
    """One satin column, named by its row and its width.

    `stitches` says how its stitches run against the arrow; `first` to `last` number them in
    sewing order. `corner_mm` is its upper left.
    """

    row: int
    width_mm: int
    stitches: Way
    corner_mm: tuple[float, float]
    first: int
    last: int

    @property
    def spacing_mm(self) -> float:
        """Between needle points on one edge."""
        return SPACING_MM[self.width_mm]

    @property
    def measured(self) -> slice:
        """Its stitches but for those near its ends, where nobody measures."""
        fifth = (self.last - self.first + 1) // 5
        return slice(self.first + fifth, self.last + 1 - fifth)

    @property
    def size_mm(self) -> tuple[float, float]:
        """Extent in x and y."""
        return (self.width_mm, LENGTH_MM) if self.stitches == "across" else (LENGTH_MM, self.width_mm)


@dataclass(frozen=True, slots=True, eq=False)
class Swatch:
    """The design to sew, its columns in sewing order, and every other line on it.

    `lines_mm` are digits, marks, arrow and scale line as (N, 2) corners each.
    """

    design: Design
    columns: tuple[Column, ...]
    lines_mm: tuple[Floats, ...]

    @property
    def stitches(self) -> int:
        """Thread on top between two needle points, counted."""
        needle, runs = (int((self.design.command == what).sum()) for what in (Command.STITCH, Command.JUMP))
        return needle - runs


@cache
def make_swatch() -> Swatch:
    """The swatch, always the same one, its upper left at (0, 0) mm."""
    needle = Needle()
    columns = []
    for row, left, top in _ROWS:
        needle.cut_to_run(_strokes(DIGITS[row], ROW_DIGIT_MM, (left, top)))
        columns += [_sew_column(needle, row, *place) for place in _places(row, left, top)]
    right, bottom = _TOOLS_MM
    needle.cut_to_run(_arrow(right, bottom))
    needle.cut_to_run(_scale_line(bottom))
    needle.cut()
    return Swatch(needle.design("swatch"), tuple(columns), tuple(needle.lines_mm))


# Standing rows one below the other at the left, lying ones at the right: number, left and top.
_ROW_PITCH_MM, _SET_PITCH_MM = 19.0, 28.4
_SETS_LEFT_MM = 56.0
_ROWS = tuple(
    [(1 + k, 0.0, k * _ROW_PITCH_MM) for k in range(3)]
    + [(4 + k, _SETS_LEFT_MM, k * _SET_PITCH_MM) for k in range(3)]
)
_TOOLS_MM = (50.0, 82.2)  # foot of the arrow, and of the line beside it
_HALVES = ((2, 3, 4, 5), (8, 7, 6))


def _places(row: int, left: float, top: float) -> list[tuple[int, Way, tuple[float, float]]]:
    """Width, way and upper left of each column of a row.

    The middle row of each three runs backwards, so that no width always lies at the same side.
    """
    beside = left + ROW_DIGIT_MM[0] + GAP_MM
    back = row in (2, 5)
    found: list[tuple[int, Way, tuple[float, float]]] = []
    if row <= 3:
        x = beside
        for width in sorted(SPACING_MM, reverse=back):
            found.append((width, "across", (x, top + DIGIT_MM[1] + HEAD_MM)))
            x += width + GAP_MM
        return found
    x = beside + DIGIT_MM[0] + HEAD_MM
    for half in reversed(_HALVES) if back else _HALVES:
        y = top
        for width in half:
            found.append((width, "along", (x, y)))
            y += width + GAP_MM
        x += LENGTH_MM + GAP_MM + DIGIT_MM[0] + HEAD_MM
    return found


def _sew_column(needle: Needle, row: int, width: int, way: Way, corner: tuple[float, float]) -> Column:
    """Digit, mark and satin in one run of thread."""
    x, y = corner
    # In the column's own frame u runs across it and v along; one that lies swaps x and y.
    u, v = (x, y) if way == "across" else (y, x)
    turn = [0, 1] if way == "across" else [1, 0]
    half, foot = u + width / 2, v - CLEAR_MM
    top = foot - MARK_MM
    mark = np.array([(half, top), (u, top), (u, foot), (u, top), (u + width, top), (u + width, foot)])[
        :, turn
    ]
    wide, high = DIGIT_MM
    at = (
        (x + width / 2 - wide / 2, y - HEAD_MM - high)
        if way == "across"
        else (x - HEAD_MM - wide, y + width / 2 - high / 2)
    )
    needle.cut_to_run(_strokes(DIGITS[width], DIGIT_MM, at))
    needle.run(_strokes(_ON[way].get(width, ()), DIGIT_MM, at))
    needle.run(mark)
    needle.lines_mm.append(mark[1:])
    count = round(LENGTH_MM / (SPACING_MM[width] / 2)) + 1
    sides = np.where(np.arange(count) % 2, u, u + width)
    satin = np.column_stack([sides, v + SPACING_MM[width] / 2 * np.arange(count)])[:, turn]
    needle.sew(satin[:1])
    first = needle.stitches
    needle.sew(satin[1:])
    last = needle.stitches - 1
    return Column(row, width, way, corner, first, last)


def _strokes(
    corners: tuple[tuple[float, float], ...], size: tuple[float, float], corner: tuple[float, float]
) -> Floats:
    return np.array(corners, np.float64).reshape(-1, 2) * size + corner


def _arrow(x: float, foot: float) -> Floats:
    """An arrow that points up: the way the wales, or the warp, are to run."""
    tip = foot - ARROW_MM
    return np.array(
        [
            (x, foot),
            (x, tip),
            (x - BARB_MM, tip + BARB_MM),
            (x, tip),
            (x + BARB_MM, tip + BARB_MM),
            (x, tip),
            (x, foot),
        ]
    )


def _scale_line(foot: float) -> Floats:
    """A line of known length with a tick at each end."""
    return np.array([(0, foot - TICK_MM), (0, foot), (LINE_MM, foot), (LINE_MM, foot - TICK_MM)])
