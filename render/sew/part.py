"""A part of the cloth around some stitches, sewn as if it were the whole.

What is sewn in one place moves the cloth near it much and the cloth far from it little and smoothly. So
after every block of stitches the cloth settles on fewer grid lines, all of them about the needle and
ever fewer away from it, and on all lines only now and then. Coarse lines are lines of the whole grid,
so what the part may do the whole may do, too.
"""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from render.compiled import njit
from render.sew.cloth import Cloth
from render.sew.grid import Grid
from render.sew.membrane import assemble_grid
from render.sew.settle import Holes
from render.sew.stitches import ON_LINE_MM, Places, at_points, ends_at, locate_lines, spread

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.sew.settle import Sewing

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

AROUND_CELLS = 3  # about the stitches on every side that are as in the whole
WHOLE_SHARE = 0.4  # of the grid's nodes; a part with more is not worth the trouble


@dataclass(frozen=True, slots=True, eq=False)
class Lines:
    """Some of the lines of a grid, by number: `line (K,)`. From `first` to `last` none is missing."""

    line: Ints
    first: int
    last: int


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """The cloth on some lines, with the stitches that reach into the part where no line is missing.

    `sewing` is that of the part, `began_mm` where its cloth lay, `places` where the whole's nodes are
    in it. `fine` and `nodes` number the nodes where no line is missing, in the part and in the whole, and
    `inner` tells which of them are lower corners of a cell there; `stitches (m,)` its stitches in the
    whole. The first `earlier` of them were sewn before, the others run from `first` to `last`.
    """

    sewing: Sewing
    began_mm: Floats
    places: Places
    fine: Ints
    nodes: Ints
    inner: NDArray[np.bool_]
    stitches: Ints
    earlier: int
    first: int
    last: int


def part_around(whole: Sewing, first: int, last: int) -> Part | None:
    """The part for stitches `first` to `last`; None where that is most of the cloth."""
    grid, cols = whole.cloth.grid, whole.cols
    points = whole.machine_mm[2 * first : 2 * last]
    (left, top), (right, bottom) = points.min(0), points.max(0)
    across, down = _lines_about(grid.x_mm, left, right), _lines_about(grid.y_mm, top, bottom)
    wide, rows = len(across.line), len(down.line)
    if rows * wide > WHOLE_SHARE * len(whole.bond):
        return None
    own = (down.line[:, None] * cols + across.line).ravel()
    row, col = np.arange(down.first, down.last + 1)[:, None], np.arange(across.first, across.last + 1)
    fine = (row * wide + col).ravel()
    inner = ((row < down.last) & (col < across.last)).ravel()
    earlier = _reaching_in(whole, across, down)
    stitches = np.concatenate([earlier, np.arange(first, last)])
    sewing = _on_lines(whole, across, down, own)
    x, y = grid.x_mm, grid.y_mm
    places = locate_lines(sewing.cloth.grid, x, y)
    bond = np.zeros((len(own), 1))
    spread(whole.bond[:, None], places.node, places.weights, sewing.cols, bond)
    sewing.bond = bond[:, 0]
    for name in ("laid_mm", "bond_loads", "area_mm2"):
        getattr(sewing, name)[fine] = getattr(whole, name)[own[fine]]
    for name in ("within_mm", "give"):
        getattr(sewing, name)[fine[inner]] = getattr(whole, name)[own[fine[inner]]]
    _take_stitches(whole, sewing, stitches, len(earlier))
    sewing.press()
    sewing.held_n = sewing.resist(sewing.lie) - sewing.loads()
    began = sewing.u_mm.copy()
    return Part(
        sewing=sewing,
        began_mm=began,
        places=places,
        fine=fine,
        nodes=own[fine],
        inner=inner,
        stitches=stitches,
        earlier=len(earlier),
        first=first,
        last=last,
    )


def put_back(whole: Sewing, part: Part) -> None:
    """Take what the part has become over into the whole."""
    sewing = part.sewing
    moved = np.empty((len(whole.bond), 2))
    for layer, change in zip(whole.u_mm, sewing.u_mm - part.began_mm, strict=True):
        at_points(change, part.places.node, part.places.weights, sewing.cols, moved)
        layer += moved
    for name in ("laid_mm", "bond_loads", "bond"):
        getattr(whole, name)[part.nodes] = getattr(sewing, name)[part.fine]
    whole.within_mm[part.nodes[part.inner]] = sewing.within_mm[part.fine[part.inner]]
    whole.match, whole.sewn, whole.effort_left = sewing.match, part.last, sewing.effort_left
    whole.active[part.stitches] = sewing.active
    new, own_new = slice(part.first, part.last), slice(part.earlier, None)
    ends, own_ends = slice(2 * part.first, 2 * part.last), slice(2 * part.earlier, None)
    for name in ("direction", "stiffness", "pierced_mm"):
        getattr(whole, name)[new] = getattr(sewing, name)[own_new]
    whole.material_mm[ends] = sewing.material_mm[own_ends]
    whole.ends.put(ends, ends_at(whole.cloth.grid, whole.material_mm[ends], whole.reach))


def _lines_about(line_mm: Floats, low_mm: float, high_mm: float) -> Lines:
    """All lines about a stretch, and twice as few with every step away from it."""
    count = len(line_mm)
    first = max(int(np.searchsorted(line_mm, low_mm + ON_LINE_MM)) - 1 - AROUND_CELLS, 0)
    last = min(int(np.searchsorted(line_mm, high_mm - ON_LINE_MM)) + AROUND_CELLS, count - 1)
    steps = np.cumsum(2 ** np.arange(1, 20))
    before = first - steps[steps < first - 1][::-1]
    after = last + steps[steps < count - 2 - last]
    outer = [np.zeros(min(first, 1), int), before, np.arange(first, last + 1), after]
    line = np.concatenate([*outer, np.full(min(count - 1 - last, 1), count - 1)]).astype(np.int64)
    start = int(np.searchsorted(line, first))
    return Lines(line, start, start + last - first)


def _reaching_in(whole: Sewing, across: Lines, down: Lines) -> Ints:
    """Stitches already sewn that begin or end where no line is missing."""
    grid = whole.cloth.grid
    box = np.stack(
        [grid.x_mm[across.line[[across.first, across.last]]], grid.y_mm[down.line[[down.first, down.last]]]]
    )
    box += (-ON_LINE_MM, ON_LINE_MM)
    return np.flatnonzero(ending_in(whole.material_mm[: 2 * whole.sewn], box))


@njit(cache=True)
def ending_in(points: Floats, box: Floats) -> NDArray[np.bool_]:
    """Whether stitches with ends (2 S, 2) have one in a box (2, 2) of lowest and highest x, and y."""
    found = np.zeros(len(points) // 2, np.bool_)
    for p in range(len(points)):
        x, y = points[p]
        if box[0, 0] <= x <= box[0, 1] and box[1, 0] <= y <= box[1, 1]:
            found[p // 2] = True
    return found


def _on_lines(whole: Sewing, across: Lines, down: Lines, own: Ints) -> Sewing:
    """The cloth on some lines only, without stitches."""
    part, cloth = copy(whole), whole.cloth
    grid = Grid(cloth.grid.x_mm[across.line], cloth.grid.y_mm[down.line], cloth.grid.cell_mm)
    layers = tuple(assemble_grid(grid.x_mm, grid.y_mm, stiffness) for stiffness in cloth.stiffness)
    part.cloth = Cloth(grid, layers, cloth.shares.copy(), cloth.free[:, own].copy(), cloth.stiffness)
    part.cols = len(grid.x_mm)
    part.lie = np.concatenate([whole.u_mm[:, own].ravel(), np.zeros(2 * len(own))])
    part.give = np.zeros((len(own), 2))
    part.bond_loads, part.laid_mm = np.zeros((len(own), 2)), np.zeros((len(own), 3))
    part.held_n = np.zeros(len(part.lie))
    part.area_mm2 = grid.node_area_mm2
    return part


def _take_stitches(whole: Sewing, part: Sewing, stitches: Ints, earlier: int) -> None:
    """Give the part its stitches, of which the first `earlier` are sewn."""
    ends = (2 * stitches[:, None] + np.arange(2)).ravel()
    for name in ("direction", "stiffness", "pierced_mm", "active"):
        setattr(part, name, getattr(whole, name)[stitches])
    for name in ("machine_mm", "material_mm"):
        setattr(part, name, getattr(whole, name)[ends])
    part.holes = Holes(whole.holes.of_end[ends], whole.holes.count)
    part.sewn = earlier
    part.ends = ends_at(part.cloth.grid, part.material_mm, part.reach)
    # Where lines are missing the cloth about a stitch's far end is known less well; its tension is known.
    there = whole.drawn_mm(stitches[:earlier])
    part.pierced_mm[:earlier] += part.drawn_mm(slice(0, earlier)) - there
