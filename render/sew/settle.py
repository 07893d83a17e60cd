"""Stitches go in, block by block, and the cloth comes to rest under each.

The machine places every stitch at its programmed point on cloth that the stitches before
have already moved. Stitch j, set when its contraction was c_j', pulls with
T_j = T0 - k_j (c_j - c_j'), k_j = T0 / s0, s0 = 0.10 + 0.02 L + a_f mm, and goes slack at zero.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from render.sew.cloth import TOLERANCE, Cloth, Factor, Solved, factorise, solve
from render.sew.order import influence_at, match, sew_within
from render.sew.push import laid_lengths, levelling, push_matrix, push_stress
from render.sew.stitches import (
    TAKE_UP_MM,
    TAKE_UP_SHARE,
    Places,
    at_points,
    contractions,
    locate,
    pull,
    spread,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

BLOCKS, SMALLEST_BLOCK, LARGEST_BLOCK = 12, 300, 8000  # of stitches between two states of rest
PINS_RECKONED = 0.2  # share of all pins to come that the factorised cloth already holds
MOST_RELEASES = 6
FINER, SMALLEST_STEP = (
    4,
    40,
)  # steps between rests on the way: within 0.01 mm of sewing to there alone (measured)
BLOCK_TOLERANCE = 2e-4  # of the solutions on the way


@dataclass(frozen=True, slots=True)
class Pull:
    """How hard stitches pull: `tension_n` each, through holes that give `hole_give_mm`.

    `pin_n_per_mm` is how firmly one needle hole joins the layers; `push_share` how much of
    the tension presses outwards across the stitches.
    """

    tension_n: float
    hole_give_mm: float
    pin_n_per_mm: float
    push_share: float


@dataclass(frozen=True, slots=True, eq=False)
class Holes:
    """Needle holes of a run of stitches: `of_end (2 S,)` numbers the hole of each stitch end.

    Rows 2 s and 2 s + 1 are the start and end of stitch s; neighbours share a hole unless the
    thread breaks between them.
    """

    of_end: Ints
    count: int


def holes_of(thread_breaks: NDArray[np.bool_]) -> Holes:
    """Number the holes in the order they are pierced."""
    new = np.ones(2 * len(thread_breaks), np.int64)
    new[0::2] = thread_breaks
    new[:1] = 1
    return Holes(np.cumsum(new) - 1, int(new.sum()))


class Sewing:
    """The work in the machine: what has been sewn so far and how the cloth lies.

    `u_mm (L, N, 2)`; for each stitch end the material point `material_mm (2 S, 2)` it went through.
    """

    def __init__(self, cloth: Cloth, pull_of: Pull, start_mm: Floats, end_mm: Floats, holes: Holes) -> None:
        count, nodes = len(start_mm), cloth.free.shape[1]
        self.cloth, self.pull, self.holes = cloth, pull_of, holes
        self.machine_mm = np.stack([start_mm, end_mm], 1).reshape(-1, 2)
        self.cols = len(cloth.grid.x_mm)
        self.u_mm = np.zeros(cloth.free.shape)
        self.material_mm = self.machine_mm.copy()
        self.node = np.zeros(2 * count, np.int64)
        self.fraction = np.zeros((2 * count, 2))
        self.direction = np.zeros((count, 2))
        self.stiffness = np.zeros(count)
        self.pierced_mm = np.zeros(count)  # contraction when the stitch was set
        self.active = np.zeros(count, bool)
        self.bond = np.zeros(nodes)
        self.bond_loads = np.zeros((nodes, 2))
        self.laid_mm = np.zeros((nodes, 3))  # thread by direction, see `laid_lengths`
        self.level = np.ones((nodes, 1))
        self.push = np.zeros((nodes, 2))
        self.push_by_stress = push_matrix(cloth.grid)
        self.released = np.zeros((nodes, 2))  # on the fabric, when hooping tension leaves it
        self.rests: list[tuple[int, Floats]] = []  # stitches sewn, and the fabric (N, 2) at rest after them
        self.match = 1.0  # solved movement within a block over that of the influence table
        self.sewn = 0

    @property
    def tension_n(self) -> Floats:
        """Tension (S,) of the stitches sewn so far; slack ones pull nothing."""
        return np.maximum(self._tension(self.u_mm), 0.0)

    def _tension(self, u_mm: Floats) -> Floats:
        n = self.sewn
        c = np.empty(n)
        contractions(
            self.cloth.felt(u_mm),
            self.node[: 2 * n],
            self.fraction[: 2 * n],
            self.direction[:n],
            self.cols,
            c,
        )
        return self.pull.tension_n - self.stiffness[:n] * (c - self.pierced_mm[:n])

    def resist(self, u_mm: Floats) -> Floats:
        """What layers, bond and stitches answer to a displacement."""
        n = self.sewn
        node, fraction, direction = self.node[: 2 * n], self.fraction[: 2 * n], self.direction[:n]
        c, force = np.empty(n), np.zeros(u_mm.shape[1:])
        contractions(self.cloth.felt(u_mm), node, fraction, direction, self.cols, c)
        pull(self.stiffness[:n] * self.active[:n] * c, node, fraction, direction, self.cols, force)
        return self.cloth.resist(u_mm, self.bond) + self.cloth.shared(force)

    def loads(self) -> Floats:
        """Forces (L, N, 2) on the cloth before it answers."""
        n = self.sewn
        force = self.push.copy()
        tension = (self.pull.tension_n + self.stiffness[:n] * self.pierced_mm[:n]) * self.active[:n]
        pull(tension, self.node[: 2 * n], self.fraction[: 2 * n], self.direction[:n], self.cols, force)
        loads = self.cloth.shared(force)
        loads[0] += self.released
        if len(loads) == 2:
            loads[0] += self.bond_loads
            loads[1] -= self.bond_loads
        return loads

    def press(self, first: int, last: int) -> None:
        """Let stitches `first` to `last` push the cloth aside."""
        ends = self.material_mm[2 * first : 2 * last].reshape(-1, 2, 2)
        grid = self.cloth.grid
        self.laid_mm += laid_lengths(grid, ends, self.direction[first:last])
        outward = self.pull.push_share * self.pull.tension_n
        stress = push_stress(self.laid_mm, grid.node_area_mm2, outward)
        self.level = levelling(self.laid_mm, grid.node_area_mm2)[:, None]
        self.push = (self.push_by_stress @ stress.ravel()).reshape(-1, 2)

    def settle(self, factor: Factor, tolerance: float = TOLERANCE) -> Solved:
        return solve(self.cloth, factor, self.resist, self.loads(), self.u_mm, tolerance=tolerance)

    def release_slack(self) -> bool:
        """Let go of stitches that would have to push, take back those that pull; whether any changed."""
        pulls = self._tension(self.u_mm) > 0
        changed = bool((pulls != self.active[: self.sewn]).any())
        self.active[: self.sewn] = pulls
        return changed

    def pierce(self, first: int, last: int, before: Floats) -> None:
        """Set stitches `first` to `last` on the cloth as it lies.

        Meanwhile `before (2 n, 4)` has moved, as a stitch feels it and of the fabric.
        """
        ends, some = slice(2 * first, 2 * last), slice(first, last)
        target = self.machine_mm[ends]
        material = target - before[:, 2:]
        moved = np.empty_like(target)
        for _ in range(2):
            places = locate(self.cloth.grid, material)
            at_points(self.u_mm[0], places.node, places.fraction, self.cols, moved)
            material = target - moved - before[:, 2:]
        # A stitch begins in the hole where the one before it ended.
        shared = (
            self.holes.of_end[2 * first + 2 : 2 * last : 2]
            == self.holes.of_end[2 * first + 1 : 2 * last - 1 : 2]
        )
        material[2::2][shared] = material[1:-1:2][shared]
        if first and self.holes.of_end[2 * first] == self.holes.of_end[2 * first - 1]:
            material[0] = self.material_mm[2 * first - 1]
        places = locate(self.cloth.grid, material)
        run = material[1::2] - material[0::2]
        length = np.hypot(run[:, 0], run[:, 1])
        self.material_mm[ends], self.node[ends], self.fraction[ends] = material, places.node, places.fraction
        self.direction[some] = run / np.maximum(length, 1e-9)[:, None]
        give = TAKE_UP_MM + TAKE_UP_SHARE * length + self.pull.hole_give_mm
        self.stiffness[some] = self.pull.tension_n / give
        self.active[some] = True
        c = np.empty(last - first)
        contractions(
            self.cloth.felt(self.u_mm), places.node, places.fraction, self.direction[some], self.cols, c
        )
        meanwhile = self.direction[some] * (before[1::2, :2] - before[0::2, :2])
        self.pierced_mm[some] = c - meanwhile.sum(1)


def sew_stitches(sewing: Sewing, *, block: int | None = None) -> Sewing:
    """Sew everything, `block` stitches between two states of rest (by the size of the design)."""
    count = len(sewing.direction)
    block = block if block is not None else min(max(count // BLOCKS, SMALLEST_BLOCK), LARGEST_BLOCK)
    places = locate(sewing.cloth.grid, sewing.machine_mm)
    pins = _pins(sewing, 0, count, places.node, places.fraction).at_nodes(sewing)
    # Halfway, in ratio, between no pin yet and all of them, so that one factor serves throughout.
    factor = factorise(sewing.cloth, sewing.bond + PINS_RECKONED * pins)
    for first in range(0, count, block):
        _sew_block(sewing, factor, first, min(first + block, count))
        sewing.rests.append((sewing.sewn, sewing.u_mm[0].copy()))
    for _ in range(MOST_RELEASES):
        if not sewing.release_slack():
            break
        sewing.u_mm = sewing.settle(factor, BLOCK_TOLERANCE).u_mm
    sewing.u_mm = sewing.settle(factor).u_mm
    sewing.rests[-1] = (count, sewing.u_mm[0].copy())
    return sewing


def finer_rests(sewing: Sewing, again: Sewing) -> list[tuple[int, Floats]]:
    """Stitches sewn, and the fabric (N, 2) at rest after them, at closer steps than it was sewn in.

    All is sewn `again` in smaller blocks; what that ends otherwise by is spread over the way.
    """
    count, steps = len(sewing.direction), FINER * len(sewing.rests)
    sew_stitches(again, block=max(-(-count // steps), SMALLEST_STEP))
    off = sewing.u_mm[0] - again.u_mm[0]
    return [(n, u_mm + off * (n / count)) for n, u_mm in again.rests[:-1]] + [(count, sewing.u_mm[0].copy())]


def _sew_block(sewing: Sewing, factor: Factor, first: int, last: int) -> None:
    still, loads = sewing.u_mm, sewing.bond_loads
    sewing.sewn = last
    sewing.pierce(first, last, np.zeros((2 * (last - first), 4)))
    sewing.press(first, last)
    pins = _pins(sewing, first, last, sewing.node, sewing.fraction)
    if len(sewing.cloth.layers) == 2:
        sewing.bond = sewing.bond + pins.at_nodes(sewing)
    within = sew_within(sewing, influence_at(sewing, factor, first, last), first, last)
    # Later blocks begin with the match of the one before them.
    for _ in range(1 if first else 2):
        sewing.u_mm = still
        before = sewing.match * within.before_mm
        sewing.pierce(first, last, before)
        if len(sewing.cloth.layers) == 2:
            sewing.bond_loads = loads + pins.loads(sewing, before)
        sewing.u_mm = sewing.settle(factor, BLOCK_TOLERANCE).u_mm
        sewing.match = match(sewing, sewing.u_mm - still, within, first, last)
    sewing.release_slack()


@dataclass(frozen=True, slots=True, eq=False)
class Pins:
    """How firmly (2 n, 1) new holes at ends of stitches join the layers, N/mm; none where one is shared."""

    firmness: Floats
    places: Places

    def at_nodes(self, sewing: Sewing) -> Floats:
        added = np.zeros((len(sewing.bond), 1))
        spread(self.firmness, self.places.node, self.places.fraction, sewing.cols, added)
        return added[:, 0]

    def loads(self, sewing: Sewing, before: Floats) -> Floats:
        """The force (N, 2) of pins set where the layers have already slipped past each other."""
        slip = sewing.u_mm[0] - sewing.u_mm[1]
        loads: Floats = self.at_nodes(sewing)[:, None] * slip
        # Fabric less what a stitch feels is the stabiliser's share of the slip.
        meanwhile = (before[:, 2:] - before[:, :2]) / sewing.cloth.shares[1]
        spread(self.firmness * meanwhile, self.places.node, self.places.fraction, sewing.cols, loads)
        return loads


def _pins(sewing: Sewing, first: int, last: int, node: Ints, fraction: Floats) -> Pins:
    ends = np.arange(2 * first, 2 * last)
    of_end = sewing.holes.of_end
    new = np.where(ends > 0, of_end[ends] != of_end[np.maximum(ends - 1, 0)], True)
    return Pins(sewing.pull.pin_n_per_mm * new[:, None], Places(node[ends], fraction[ends]))
