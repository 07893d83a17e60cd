"""The order within a block: how its own stitches move the cloth before later ones are set.

Between two states of rest the stitches of a block act in small groups. A table of the cloth's
answer to a unit force stands for a solution after every group: group m, set when it was drawn
together by c_m', pulls with T_m = T0 - k_m (c_m - c_m') and c = C T, so that the groups so far
are at rest where (1 + k C) T = T0 + k c'.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numba import njit

from render.sew.stitches import at_points, contractions, locate, pull, spread

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.sew.cloth import Factor
    from render.sew.settle import Sewing

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

GROUP = 3  # stitches that act together
MOST_GROUPS = 60
ROOM = 2  # cells that the window reaches beyond the stitches


@dataclass(frozen=True, slots=True, eq=False)
class Influence:
    """Movement for a unit force at offsets of whole cells `table (2 R - 1, 2 C - 1, 4, 2)`, mm/N.

    The four are what a stitch feels of it, x and y, and what the fabric does. The table
    serves a window of R rows and C columns of nodes that begins at node `corner`.
    """

    table: Floats
    corner: int

    @property
    def window(self) -> tuple[int, int]:
        return (self.table.shape[0] + 1) // 2, (self.table.shape[1] + 1) // 2


@dataclass(frozen=True, slots=True, eq=False)
class Within:
    """Movement of stitch ends (2 n, 4) by stitches of their own block, felt and of the fabric.

    `before_mm` when they are set, `drawn_mm (n,)` how far they are drawn together at the block's end.
    """

    before_mm: Floats
    drawn_mm: Floats


def influence_at(sewing: Sewing, factor: Factor, first: int, last: int) -> Influence:
    """The cloth's answer to a force amid stitches `first` to `last`, taken as alike all over them."""
    grid, cols = sewing.cloth.grid, sewing.cols
    points = sewing.machine_mm[2 * first : 2 * last]
    middle = 0.5 * (points.min(0) + points.max(0))
    reach = np.ceil((points.max(0) - points.min(0)) / grid.cell_mm).astype(int) + 2 * ROOM + 2
    x, y = np.meshgrid(*(np.arange(-n, n + 1) for n in reach))
    around = locate(grid, middle + grid.cell_mm * np.stack([x.ravel(), y.ravel()], 1))
    place = locate(grid, middle[None])
    table = np.empty((y.size, 4, 2))
    for axis in range(2):
        force, unit, moved = np.zeros((len(sewing.bond), 2)), np.zeros((1, 2)), np.empty((y.size, 4))
        unit[0, axis] = 1.0
        spread(unit, place.node, place.fraction, cols, force)
        answer = factor.solve(sewing.cloth.shared(force))
        both = np.concatenate([sewing.cloth.felt(answer), answer[0]], 1)
        at_points(both, around.node, around.fraction, cols, moved)
        table[:, :, axis] = moved
    return Influence(table.reshape(*y.shape, 4, 2), 0)


def influence_on(sewing: Sewing, influence: Influence, first: int, last: int) -> Influence:
    """The part of the table that serves stitches `first` to `last`, as far as it reaches."""
    node, all_rows = sewing.node[2 * first : 2 * last], len(sewing.bond) // sewing.cols
    row, col = node // sewing.cols, node % sewing.cols
    top, left = max(int(row.min()) - ROOM, 0), max(int(col.min()) - ROOM, 0)
    most = [n // 2 + 1 for n in influence.table.shape[:2]]
    rows = min(int(row.max()) + 2 + ROOM - top, all_rows - top, most[0])
    wide = min(int(col.max()) + 2 + ROOM - left, sewing.cols - left, most[1])
    table = influence.table[most[0] - rows : most[0] + rows - 1, most[1] - wide : most[1] + wide - 1]
    return Influence(np.ascontiguousarray(table), top * sewing.cols + left)


@njit(cache=True)
def answer_to(loads: Floats, table: Floats) -> Floats:
    """Movement (G, R * C, D) of a window of nodes under loads (G, R, C, 2), by the table of offsets."""
    groups, rows, wide = loads.shape[:3]
    parts = table.shape[2]
    out = np.zeros((groups, rows * wide, parts))
    for g in range(groups):
        for row in range(rows):
            for col in range(wide):
                fx, fy = loads[g, row, col, 0], loads[g, row, col, 1]
                if fx != 0.0 or fy != 0.0:
                    for r in range(rows):
                        for c in range(wide):
                            i, j = r - row + rows - 1, c - col + wide - 1
                            for d in range(parts):
                                out[g, r * wide + c, d] += table[i, j, d, 0] * fx + table[i, j, d, 1] * fy
    return out


@njit(cache=True)
def drawn_by(loads: Floats, moved: Floats) -> Floats:
    """How far group g is drawn together (G, H) by the movement (H, N, 4) of h; `loads (G, N, 2)` are g's."""
    out = np.zeros((len(loads), len(moved)))
    for g in range(len(loads)):
        for n in range(loads.shape[1]):
            fx, fy = loads[g, n, 0], loads[g, n, 1]
            if fx != 0.0 or fy != 0.0:
                for h in range(len(moved)):
                    out[g, h] += fx * moved[h, n, 0] + fy * moved[h, n, 1]
    return out


@njit(cache=True)
def together(weights: Floats, moved: Floats) -> Floats:
    """Sums (G, N, 4) of movements (H, N, 4), each with its weight (G, H)."""
    out = np.zeros((len(weights), *moved.shape[1:]))
    for g in range(len(weights)):
        for h in range(len(moved)):
            weight = weights[g, h]
            if weight != 0.0:
                for n in range(moved.shape[1]):
                    for d in range(moved.shape[2]):
                        out[g, n, d] += weight * moved[h, n, d]
    return out


@njit(cache=True)
def in_turn(drawn: Floats, stiffness: Floats, tension: float, sizes: Ints, share: Floats) -> Floats:
    """Tensions of groups set one after the other.

    `drawn (G, G)` is the contraction of group g for a unit tension in h. Row g of the first
    G rows of the answer (G + 1, G) is what has acted on group g when it is set, its own half
    (`share`) among it; the last row is the tension at the end.
    """
    count = len(stiffness)
    out = np.zeros((count + 1, count))
    inverse = np.zeros((count, count))  # of 1 + k C over the groups so far, grown by bordering
    right = np.zeros(count)
    for g in range(count):
        set_at = 0.0
        for h in range(g):
            set_at += drawn[g, h] * out[g, h]
        own = tension / (1.0 + stiffness[g] * drawn[g, g] * (1.0 - share[g]))
        out[g, g] = share[g] * own
        set_at += drawn[g, g] * out[g, g]
        right[g] = tension + stiffness[g] * set_at
        left, down = np.zeros(g), np.zeros(g)
        for i in range(g):
            for j in range(g):
                left[i] += inverse[i, j] * stiffness[j] * drawn[j, g]
                down[i] += inverse[j, i] * stiffness[g] * drawn[g, j]
        rest = 1.0 + stiffness[g] * drawn[g, g]
        for j in range(g):
            rest -= stiffness[g] * drawn[g, j] * left[j]
        for i in range(g):
            for j in range(g):
                inverse[i, j] += left[i] * down[j] / rest
            inverse[i, g] = -left[i] / rest
            inverse[g, i] = -down[i] / rest
        inverse[g, g] = 1.0 / rest
        for i in range(g + 1):
            for j in range(g + 1):
                out[g + 1, i] += inverse[i, j] * right[j]
    return out


def sew_within(sewing: Sewing, influence: Influence, first: int, last: int) -> Within:
    """Sew one block group by group on the table alone."""
    (rows, wide), count = influence.window, last - first
    ends = slice(2 * first, 2 * last)
    node = _in_window(sewing.node[ends], influence, sewing.cols)
    fraction, direction = sewing.fraction[ends], sewing.direction[first:last]
    size = max(GROUP, -(-count // MOST_GROUPS))
    firsts = np.arange(0, count, size)
    sizes = np.minimum(size, count - firsts)

    # Pull of each group for a unit tension, then its push as it is.
    loads = np.zeros((2 * len(firsts), rows * wide, 2))
    push = _push_pairs(sewing, influence, first, last)
    no_cell = np.zeros((rows * wide, 2))
    for g, a in enumerate(firsts):
        some, points = slice(a, a + size), slice(2 * a, 2 * (a + size))
        pull(np.ones(sizes[g]), node[points], fraction[points], direction[some], wide, loads[g], no_cell)
        spread(push.force_n[points], push.node[points], push.fraction[points], wide, loads[len(firsts) + g])
    moved = answer_to(loads.reshape(-1, rows, wide, 2), influence.table)
    drawn = drawn_by(loads[: len(firsts)], moved[: len(firsts)]) / sizes[:, None]
    stiffness = np.add.reduceat(sewing.stiffness[first:last], firsts) / sizes
    # A stitch sees, on average, half of its own group sewn before it.
    share = 0.5 * (1 - 1 / sizes)
    tension = in_turn(drawn, stiffness, sewing.pull.tension_n, sizes, share)
    done = np.tri(len(firsts), k=-1) + np.diag(share)
    fields = together(np.concatenate([tension[:-1], done], 1), moved)
    before, drawn_mm = np.empty((2 * count, 4)), np.empty(count)
    for g, a in enumerate(firsts):
        points = slice(2 * a, 2 * (a + size))
        at_points(fields[g], node[points], fraction[points], wide, before[points])
    end = together(tension[-1:], moved[: len(firsts)])[0]
    no_cell[:] = 0.0
    contractions(end[:, :2].copy(), no_cell, node, fraction, direction, wide, drawn_mm)
    return Within(before, drawn_mm)


@dataclass(frozen=True, slots=True, eq=False)
class PushPairs:
    """Forces (2 n, 2) that press the cloth apart across each stitch, in the window."""

    node: Ints
    fraction: Floats
    force_n: Floats


def _push_pairs(sewing: Sewing, influence: Influence, first: int, last: int) -> PushPairs:
    """A stress over a stitch's cell, seen from a few cells away, is a pair of opposite forces."""
    ends = sewing.material_mm[2 * first : 2 * last].reshape(-1, 2, 2)
    middle, run = ends.mean(1), ends[:, 1] - ends[:, 0]
    across = np.stack([-sewing.direction[first:last, 1], sewing.direction[first:last, 0]], 1)
    cell = sewing.cloth.grid.cell_mm
    place, level = locate(sewing.cloth.grid, middle), np.empty((last - first, 1))
    at_points(sewing.level, place.node, place.fraction, sewing.cols, level)
    outward = sewing.pull.push_share * sewing.pull.tension_n
    force = outward * np.hypot(run[:, 0], run[:, 1])[:, None] / (2 * cell) * level * across
    pairs = np.stack([middle + cell * across, middle - cell * across], 1).reshape(-1, 2)
    places = locate(sewing.cloth.grid, pairs)
    return PushPairs(
        _in_window(places.node, influence, sewing.cols),
        places.fraction,
        np.stack([force, -force], 1).reshape(-1, 2),
    )


def _in_window(node: Ints, influence: Influence, cols: int) -> Ints:
    """Node numbers within the window, kept inside it."""
    rows, wide = influence.window
    row = np.clip(node // cols - influence.corner // cols, 0, rows - 2)
    return row * wide + np.clip(node % cols - influence.corner % cols, 0, wide - 2)


def match(sewing: Sewing, before_mm: Floats, within: Within, first: int, last: int) -> float:
    """How much of the table's movement the solved one shows, by least squares over the block.

    `before_mm (n,)` is how far the block's stitches were drawn together before there were any.
    """
    solved = sewing.drawn_mm(np.arange(first, last)) - before_mm
    table = within.drawn_mm
    whole = float((table * table).sum())
    return min(max(float((table * solved).sum()) / whole, 0.0), 1.5) if whole else sewing.match
