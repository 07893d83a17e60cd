"""Stitches go in, block by block, and the cloth comes to rest under each.

The machine places every stitch at its programmed point on cloth that the stitches before
have already moved. Stitch j, set when its contraction was c_j', pulls with
T_j = T0 - k_j (c_j - c_j'), k_j = T0 / s0, s0 = 0.10 + 0.02 L + a_f mm, and goes slack at zero.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from render.sew.cloth import SETTLED_MM, Cloth, Factor, solve, too_dense
from render.sew.push import laid_lengths, levelling, push_forces, push_stress
from render.sew.stitches import (
    BEARING_MM,
    TAKE_UP_MM,
    TAKE_UP_SHARE,
    Ends,
    at_points,
    contractions,
    ends_at,
    humps_drawn,
    pull,
    pull_humps,
    reach_of,
    within_cells,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

# The work of a step is about its stitches and three times its places (measured). Designs of 3,000 to 200,000
# stitches take 400 to 900 a stitch; long stitches that all cross each other take thousands.
PLACE_EFFORT = 3
# It is given up after so much: about a minute, or more for large designs.
LEAST_EFFORT, EFFORT_A_STITCH = 3e8, 2000.0


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
        # How the cloth lies: layers (L, N, 2), then within the cells (N, 2), see `Cloth.give_within`.
        self.lie = np.zeros(cloth.free.size + 2 * nodes)
        self.give = np.zeros((nodes, 2))
        self.material_mm = self.machine_mm.copy()
        self.reach = reach_of(cloth.grid, BEARING_MM)
        self.ends = ends_at(cloth.grid, self.machine_mm, self.reach)
        self.direction = np.zeros((count, 2))
        self.stiffness = np.zeros(count)
        self.pierced_mm = np.zeros(count)  # contraction when the stitch was set
        self.active = np.zeros(count, bool)
        self.bond = np.zeros(nodes)
        self.bond_loads = np.zeros((nodes, 2))
        self.laid_mm = np.zeros((nodes, 3))  # thread by direction, see `laid_lengths`
        self.level = np.ones((nodes, 1))
        self.push = np.zeros((nodes, 2))
        self.area_mm2 = cloth.grid.node_area_mm2
        self.held_n = np.zeros(len(self.lie))  # forces that nothing sewn answers
        self.rests: list[tuple[int, Floats]] = []  # stitches sewn, and the fabric (N, 2) at rest after them
        self.effort_left = max(LEAST_EFFORT, EFFORT_A_STITCH * count)
        self.match = 1.0  # solved movement within a block over that of the influence table
        self.sewn = 0

    @property
    def u_mm(self) -> Floats:
        """The layers' displacement (L, N, 2), a view of `lie`."""
        return self.lie[: self.cloth.free.size].reshape(self.cloth.free.shape)

    @property
    def within_mm(self) -> Floats:
        """The movement within the cells (N, 2), a view of `lie`."""
        return self.lie[self.cloth.free.size :].reshape(-1, 2)

    @property
    def tension_n(self) -> Floats:
        """Tension (S,) of the stitches sewn so far; slack ones pull nothing."""
        return np.maximum(self._tension(), 0.0)

    def _tension(self) -> Floats:
        drawn = self.drawn_mm(slice(0, self.sewn))
        return self.pull.tension_n - self.stiffness[: self.sewn] * (drawn - self.pierced_mm[: self.sewn])

    def drawn_mm(self, some: slice | Ints) -> Floats:
        """How far some stitches (m,) have been drawn together as the cloth lies."""
        ends = (
            slice(2 * some.start, 2 * some.stop)
            if isinstance(some, slice)
            else (2 * some[:, None] + np.arange(2)).ravel()
        )
        return self._drawn(self.cloth.felt(self.u_mm), self.within_mm, self.ends[ends], self.direction[some])

    def _drawn(self, felt: Floats, within: Floats, ends: Ends, direction: Floats) -> Floats:
        drawn = np.empty(len(direction))
        contractions(felt, ends.node, ends.weights, direction, self.cols, drawn)
        humps_drawn(within, ends.cells, ends.humps, direction, drawn)
        return drawn

    def points_moved(self, ends: Ends) -> Floats:
        """How far the fabric has moved (P, 2) where ends of stitches bear on it, mm."""
        moved = np.empty((len(ends.node), 2))
        at_points(self.u_mm[0], ends.node, ends.weights, self.cols, moved)
        within_cells(self.within_mm, ends.cells, ends.humps, moved)
        return moved

    def resist(self, lie: Floats) -> Floats:
        """What layers, bond, cells and stitches answer when the cloth lies so."""
        n, size = self.sewn, self.cloth.free.size
        u, within = lie[:size].reshape(self.cloth.free.shape), lie[size:].reshape(-1, 2)
        c = self._drawn(self.cloth.felt(u), within, self.ends[: 2 * n], self.direction[:n])
        forces = self._pulled(self.stiffness[:n] * self.active[:n] * c)
        forces[size:] += (within / np.where(self.give > 0, self.give, np.inf)).ravel()
        forces[:size] += self.cloth.resist(u, self.bond).ravel()
        return forces

    def _pulled(self, tension_n: Floats) -> Floats:
        """Forces, in the order of `lie`, of the stitches under tension (n,)."""
        n, nodes = self.sewn, len(self.bond)
        force, cells = np.zeros((nodes, 2)), np.zeros((nodes, 2))
        ends, direction = self.ends[: 2 * n], self.direction[:n]
        pull(tension_n, ends.node, ends.weights, direction, self.cols, force)
        pull_humps(tension_n, ends.cells, ends.humps, direction, cells)
        return np.concatenate([self.cloth.shared(force).ravel(), cells.ravel()])

    def loads(self) -> Floats:
        """Forces, in the order of `lie`, on the cloth before it answers."""
        n, size = self.sewn, self.cloth.free.size
        tension = (self.pull.tension_n + self.stiffness[:n] * self.pierced_mm[:n]) * self.active[:n]
        loads = self._pulled(tension) + self.held_n
        layers = loads[:size].reshape(self.cloth.free.shape)
        layers += self.cloth.shared(self.push)
        if len(layers) == 2:
            layers[0] += self.bond_loads
            layers[1] -= self.bond_loads
        return loads

    def lay(self, first: int, last: int) -> None:
        """Lay the thread of stitches `first` to `last` on the cloth."""
        ends = self.material_mm[2 * first : 2 * last].reshape(-1, 2, 2)
        self.laid_mm += laid_lengths(self.cloth.grid, ends, self.direction[first:last])

    def press(self) -> None:
        """Let all thread that is laid push the cloth aside."""
        outward = self.pull.push_share * self.pull.tension_n
        stress = push_stress(self.laid_mm, self.area_mm2, outward)
        self.level = levelling(self.laid_mm, self.area_mm2)[:, None]
        self.push = push_forces(stress, self.cloth.grid.x_mm, self.cloth.grid.y_mm)

    def settle(self, factor: Factor, within_mm: float = SETTLED_MM) -> int:
        """Let the cloth come to rest; the steps that it took. Raises InputError where that takes too long."""
        size, give = self.cloth.free.size, self.give.ravel()
        free = np.concatenate([self.cloth.free.ravel(), give > 0])

        def nearly(force: Floats) -> Floats:
            layers = factor.solve(force[:size].reshape(self.cloth.free.shape))
            return np.concatenate([layers.ravel(), give * force[size:]])

        found = solve(free, nearly, self.resist, self.loads(), self.lie, within_mm=within_mm)
        self.lie = found.u_mm
        self.effort_left -= found.steps * (self.sewn + PLACE_EFFORT * len(self.lie))
        if self.effort_left < 0:
            raise too_dense()
        return found.steps

    def release_slack(self) -> bool:
        """Let go of stitches that would have to push, take back those that pull; whether any changed."""
        pulls = self._tension() > 0
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
        for _ in range(2):
            moved = self.points_moved(ends_at(self.cloth.grid, material, self.reach))
            material = target - moved - before[:, 2:]
        # A stitch begins in the hole where the one before it ended.
        shared = (
            self.holes.of_end[2 * first + 2 : 2 * last : 2]
            == self.holes.of_end[2 * first + 1 : 2 * last - 1 : 2]
        )
        material[2::2][shared] = material[1:-1:2][shared]
        if first and self.holes.of_end[2 * first] == self.holes.of_end[2 * first - 1]:
            material[0] = self.material_mm[2 * first - 1]
        run = material[1::2] - material[0::2]
        length = np.hypot(run[:, 0], run[:, 1])
        self.material_mm[ends] = material
        self.ends.put(ends, ends_at(self.cloth.grid, material, self.reach))
        self.direction[some] = run / np.maximum(length, 1e-9)[:, None]
        give = TAKE_UP_MM + TAKE_UP_SHARE * length + self.pull.hole_give_mm
        self.stiffness[some] = self.pull.tension_n / give
        self.active[some] = True
        c = self.drawn_mm(some)
        meanwhile = self.direction[some] * (before[1::2, :2] - before[0::2, :2])
        self.pierced_mm[some] = c - meanwhile.sum(1)
