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

from render.compiled import njit
from render.sew.stitches import BEARING_MM, ON_LINE_MM, at_points, contractions, locate, pull, spread

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
    """Movement for a unit force, along x or y, at offsets of whole cells, mm/N.

    `table (2, 2 R - 1, 2 C - 1, 4)`: the four are what a stitch feels of it, x and y, and what the
    fabric does. It serves a window of R rows and C columns of nodes that begins at node `corner`.
    """

    table: Floats
    corner: int

    @property
    def window(self) -> tuple[int, int]:
        """Rows and columns of nodes that the table serves."""
        return (self.table.shape[1] + 1) // 2, (self.table.shape[2] + 1) // 2


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
    offsets = grid.cell_mm * np.stack([x.ravel(), y.ravel()], 1)
    away = np.abs(grid.nodes_mm - middle).sum(1)
    # Of nodes that are equally near each has its say: turned by half, all would choose another.
    nearest = grid.nodes_mm[away <= away.min() + ON_LINE_MM]
    table = np.zeros((2, y.size, 4))
    for node in nearest:
        around, place = locate(grid, node + offsets, BEARING_MM), locate(grid, node[None], BEARING_MM)
        for axis in range(2):
            force, unit, moved = np.zeros((len(sewing.bond), 2)), np.zeros((1, 2)), np.empty((y.size, 4))
            unit[0, axis] = 1.0 / len(nearest)
            spread(unit, place.node, place.weights, cols, force)
            answer = factor.solve_well(sewing.cloth.shared(force))
            both = np.concatenate([sewing.cloth.felt(answer), answer[0]], 1)
            at_points(both, around.node, around.weights, cols, moved)
            table[axis] += moved
    return Influence(table.reshape(2, *y.shape, 4), 0)


def influence_on(sewing: Sewing, influence: Influence, first: int, last: int) -> Influence:
    """The part of the table that serves stitches `first` to `last`, as far as it reaches."""
    grid, points = sewing.cloth.grid, sewing.material_mm[2 * first : 2 * last]
    (left, wide), (top, rows) = (
        _lines_for(line_mm, at, most // 2 + 1)
        for line_mm, at, most in (
            (grid.x_mm, points[:, 0], influence.table.shape[2]),
            (grid.y_mm, points[:, 1], influence.table.shape[1]),
        )
    )
    most = [n // 2 + 1 for n in influence.table.shape[1:3]]
    table = influence.table[:, most[0] - rows : most[0] + rows - 1, most[1] - wide : most[1] + wide - 1]
    return Influence(np.ascontiguousarray(table), top * sewing.cols + left)


def _lines_for(line_mm: Floats, at_mm: Floats, most: int) -> tuple[int, int]:
    """First of the lines that serve points, and how many, `most` at the most."""
    before = int(np.searchsorted(line_mm, at_mm.min() + ON_LINE_MM)) - 1
    after = int(np.searchsorted(line_mm, at_mm.max() - ON_LINE_MM))
    first = max(before - ROOM, 0)
    return first, min(after + ROOM + 1, len(line_mm), first + most) - first


@njit(cache=True)
def load_groups(size: int, node: Ints, weights: Floats, direction: Floats, cols: int, out: Floats) -> None:
    """Add to loads (G, N, 2) the pull of stitches (S,) under unit tension, `size` of them a group."""
    for g in range(len(out)):
        some, points = slice(g * size, (g + 1) * size), slice(2 * g * size, 2 * (g + 1) * size)
        own = direction[some]
        pull(np.ones(len(own)), node[points], weights[points], own, cols, out[g])


@njit(cache=True)
def spread_groups(size: int, force: Floats, node: Ints, weights: Floats, cols: int, out: Floats) -> None:
    """Add to loads (G, N, 2) forces (2 S, 2) at points, those of `size` stitches a group."""
    for g in range(len(out)):
        points = slice(2 * g * size, 2 * (g + 1) * size)
        spread(force[points], node[points], weights[points], cols, out[g])


@njit(cache=True)
def answer_to(loads: Floats, table: Floats) -> Floats:
    """Movement (G, R * C, D) of a window of nodes under loads (G, R, C, 2), by the table of offsets."""
    groups, rows, wide = loads.shape[:3]
    parts = table.shape[3]
    by_x = table[0].copy().reshape(table.shape[1], -1)
    by_y = table[1].copy().reshape(table.shape[1], -1)
    out = np.zeros((groups, rows, wide * parts))
    for g in range(groups):
        for row in range(rows):
            for col in range(wide):
                fx, fy = loads[g, row, col, 0], loads[g, row, col, 1]
                if fx != 0.0 or fy != 0.0:
                    begin = (wide - 1 - col) * parts
                    for r in range(rows):
                        x, y = by_x[r - row + rows - 1], by_y[r - row + rows - 1]
                        for k in range(wide * parts):
                            out[g, r, k] += x[begin + k] * fx + y[begin + k] * fy
    return out.reshape(groups, rows * wide, parts)


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
def moved_before(
    size: int, tension: Floats, share: Floats, moved: Floats, node: Ints, weights: Floats, cols: int
) -> Floats:
    """Movement (2 S, D) of the ends of stitches when they are set, in G groups of `size` stitches.

    Of movements `moved (2 G, N, D)` the first G are by the pull of each group, which counts as often as
    row g of `tension (G, G)` says; the others by its push, which counts whole of the groups before g and
    by its `share (G,)` of g.
    """
    groups, parts, reach = len(tension), moved.shape[2], weights.shape[2]
    out, pushed = np.zeros((len(node), parts)), np.zeros(moved.shape[1:])
    for g in range(groups):
        for p in range(2 * g * size, min(2 * (g + 1) * size, len(node))):
            for j in range(reach):
                for i in range(reach):
                    n, part = node[p] + j * cols + i, weights[p, 1, j] * weights[p, 0, i]
                    if part != 0.0:
                        for d in range(parts):
                            out[p, d] += part * (pushed[n, d] + share[g] * moved[groups + g, n, d])
                        for h in range(g + 1):
                            for d in range(parts):
                                out[p, d] += part * tension[g, h] * moved[h, n, d]
        pushed += moved[groups + g]
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
    node = _in_window(sewing.ends.node[ends], influence, sewing.cols, sewing.reach)
    weights, direction = sewing.ends.weights[ends], sewing.direction[first:last]
    size = max(GROUP, -(-count // MOST_GROUPS))
    firsts = np.arange(0, count, size)
    sizes = np.minimum(size, count - firsts)

    # Pull of each group for a unit tension, then its push as it is.
    groups = len(firsts)
    loads = np.zeros((2 * groups, rows * wide, 2))
    push = _push_pairs(sewing, influence, first, last)
    load_groups(size, node, weights, direction, wide, loads[:groups])
    spread_groups(size, push.force_n, push.node, push.weights, wide, loads[groups:])
    moved = answer_to(loads.reshape(-1, rows, wide, 2), influence.table)
    drawn = drawn_by(loads[:groups], moved[:groups]) / sizes[:, None]
    stiffness = np.add.reduceat(sewing.stiffness[first:last], firsts) / sizes
    # A stitch sees, on average, half of its own group sewn before it.
    share = 0.5 * (1 - 1 / sizes)
    tension = in_turn(drawn, stiffness, sewing.pull.tension_n, sizes, share)
    before = moved_before(size, tension[:-1], share, moved, node, weights, wide)
    end = (tension[-1][:, None, None] * moved[:groups]).sum(0)
    drawn_mm = np.empty(count)
    contractions(end, node, weights, direction, wide, drawn_mm)
    return Within(before, drawn_mm)


@dataclass(frozen=True, slots=True, eq=False)
class PushPairs:
    """Forces (2 n, 2) that press the cloth apart across each stitch, in the window."""

    node: Ints
    weights: Floats
    force_n: Floats


def _push_pairs(sewing: Sewing, influence: Influence, first: int, last: int) -> PushPairs:
    """A stress over a stitch's cell, seen from a few cells away, is a pair of opposite forces."""
    ends = sewing.material_mm[2 * first : 2 * last].reshape(-1, 2, 2)
    middle, run = ends.mean(1), ends[:, 1] - ends[:, 0]
    across = np.stack([-sewing.direction[first:last, 1], sewing.direction[first:last, 0]], 1)
    cell = sewing.cloth.grid.cell_mm
    place, level = locate(sewing.cloth.grid, middle), np.empty((last - first, 1))
    at_points(sewing.level, place.node, place.weights, sewing.cols, level)
    outward = sewing.pull.push_share * sewing.pull.tension_n
    force = outward * np.hypot(run[:, 0], run[:, 1])[:, None] / (2 * cell) * level * across
    pairs = np.stack([middle + cell * across, middle - cell * across], 1).reshape(-1, 2)
    places = locate(sewing.cloth.grid, pairs)
    return PushPairs(
        _in_window(places.node, influence, sewing.cols, 2),
        places.weights,
        np.stack([force, -force], 1).reshape(-1, 2),
    )


def _in_window(node: Ints, influence: Influence, cols: int, reach: int) -> Ints:
    """Node numbers within the window, so that as many lines as `reach` from there are inside it."""
    rows, wide = influence.window
    row = np.clip(node // cols - influence.corner // cols, 0, rows - reach)
    return row * wide + np.clip(node % cols - influence.corner % cols, 0, wide - reach)


def match(sewing: Sewing, before_mm: Floats, within: Within, first: int, last: int) -> float:
    """How much of the table's movement the solved one shows, by least squares over the block.

    `before_mm (n,)` is how far the block's stitches were drawn together before there were any.
    """
    solved = sewing.drawn_mm(slice(first, last)) - before_mm
    table = within.drawn_mm
    whole = float((table * table).sum())
    return min(max(float((table * solved).sum()) / whole, 0.0), 1.5) if whole else sewing.match
