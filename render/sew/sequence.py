"""The whole of the sewing: block after block around the needle, and the whole cloth now and then."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from render.sew.cloth import factorise
from render.sew.order import influence_at, influence_on, match, sew_within
from render.sew.part import part_around, put_back
from render.sew.stitches import Places, locate, spread

if TYPE_CHECKING:
    from collections.abc import Iterator
    from concurrent.futures import Future

    from numpy.typing import NDArray

    from render.sew.cloth import Factor
    from render.sew.order import Influence
    from render.sew.settle import Sewing

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

RESTS, FEWEST_STITCHES = 4, 300  # states of rest of the whole cloth; stitches between two of them
WINDOW, BLOCK = 1250, 320  # stitches sewn in one part of the cloth, and between two states of its rest
LINES_AROUND = 16  # of a part beyond its stitches, about
# Steps between rests on the way: within 0.01 mm of sewing to there alone (measured).
FINER, FINER_RESTS, SMALLEST_STEP = 4, 12, 40
PINS_RECKONED = 0.4  # share of all pins to come that the factorised cloth already holds
MOST_RELEASES = 6
BLOCK_SETTLED_MM, REST_SETTLED_MM = 1e-3, 1e-2  # of the solutions on the way


def sew_stitches(sewing: Sewing, *, block: int | None = None) -> Sewing:
    """Sew everything; `block` stitches between two states of rest of the whole cloth, nothing less."""
    meanwhile, then = _bonds(sewing)
    with _factorised(sewing, meanwhile) as whole:
        _sew_all(sewing, whole, block)
    # One after the other: either is most of the memory of a small piece.
    with _factorised(sewing, then) as whole:
        _come_to_rest(sewing, whole)
    return sewing


def sew_with_rests(sewing: Sewing, again: Sewing) -> list[tuple[int, Floats]]:
    """Sew everything; stitches sewn, and the fabric (N, 2) at rest after them, step by step.

    At the same time all is sewn `again` on the whole of the same cloth in small blocks; how else that ends is
    spread over the way.
    """
    count = len(sewing.direction)
    steps = FINER * min(FINER_RESTS, -(-count // FEWEST_STITCHES))
    meanwhile, then = _bonds(sewing)
    with ThreadPoolExecutor(1) as other:
        with _factorised(sewing, meanwhile) as whole:
            finer = other.submit(_sew_all, again, whole, max(-(-count // steps), SMALLEST_STEP))
            _sew_all(sewing, whole, None)
            finer.result()
        with _factorised(sewing, then) as whole:
            finer = other.submit(_come_to_rest, again, whole)
            _come_to_rest(sewing, whole)
            finer.result()
    off = sewing.u_mm[0] - again.u_mm[0]
    return [(n, u_mm + off * (n / count)) for n, u_mm in again.rests[:-1]] + [(count, sewing.u_mm[0].copy())]


def _bonds(sewing: Sewing) -> tuple[Floats, Floats]:
    """What joins the layers while all is sewn, as far as the factorised cloth says, and then."""
    count = len(sewing.direction)
    return _bond_for(sewing, 0, count), sewing.bond + _pins_to_come(sewing, 0, count)


@contextmanager
def _factorised(sewing: Sewing, bond: Floats) -> Iterator[list[Future[Factor]]]:
    """The whole cloth factorised, as a list of one.

    Of a large design that is done while its first parts are being sewn.
    """
    with ThreadPoolExecutor(1) as beside:
        made = [beside.submit(factorise, sewing.cloth, bond)]
        yield made
        # SuperLU gives its memory back only where the last that holds it lets go on the thread that made it.
        beside.submit(made.clear)


def _sew_all(sewing: Sewing, whole: list[Future[Factor]], block: int | None) -> None:
    count = len(sewing.direction)
    sewing.give = sewing.cloth.give_within(sewing.bond + _pins_to_come(sewing, 0, count))
    stretch = block if block is not None else max(-(-count // RESTS), FEWEST_STITCHES)
    for first in range(0, count, stretch):
        last = min(first + stretch, count)
        if block is not None:
            _sew_blocks(sewing, whole[0].result(), first, last, block)
            sewing.rests.append((sewing.sewn, sewing.u_mm[0].copy()))
        else:
            _sew_parts(sewing, whole[0], first, last)


def _come_to_rest(sewing: Sewing, whole: list[Future[Factor]]) -> None:
    """Let the whole cloth come to rest once all is sewn."""
    for _ in range(MOST_RELEASES):
        if not sewing.release_slack():
            break
        sewing.settle(whole[0].result(), BLOCK_SETTLED_MM)
    sewing.settle(whole[0].result())


def _sew_parts(sewing: Sewing, whole: Future[Factor], first: int, last: int) -> None:
    """Sew part by part, then let the whole cloth come to rest; at the very end that is left to do."""
    while first < last:
        stop = _end_of_part(sewing, first, last)
        part = part_around(sewing, first, stop)
        if part is None:
            _sew_blocks(sewing, whole.result(), first, stop, BLOCK)
        else:
            own, count = part.sewing, len(part.stitches)
            factor = factorise(own.cloth, _bond_for(own, part.earlier, count), rough=True)
            _sew_blocks(own, factor, part.earlier, count, BLOCK)
            put_back(sewing, part)
        first = stop
    sewing.press()
    if last < len(sewing.direction):
        sewing.settle(whole.result(), REST_SETTLED_MM)


def _end_of_part(sewing: Sewing, first: int, last: int) -> int:
    """Where the part that begins with stitch `first` ends: where sewing it costs least a stitch.

    The work grows with the part's nodes, once for each block and once for the part.
    """
    most = min(first + WINDOW, last)
    of_end = sewing.holes.of_end
    ends = np.arange(min(first + BLOCK, most), most)
    ends = np.append(ends[of_end[2 * ends] != of_end[2 * ends - 1]], most)
    points, cell_mm = sewing.machine_mm[2 * first : 2 * most], sewing.cloth.grid.cell_mm
    sides = np.maximum.accumulate(points) - np.minimum.accumulate(points)
    nodes = (sides[2 * (ends - first) - 1] / cell_mm + LINES_AROUND).prod(1)
    return int(ends[np.argmin(nodes * (1 / (ends - first) + 1 / BLOCK))])


def _sew_blocks(sewing: Sewing, factor: Factor, first: int, last: int, block: int) -> None:
    influence = influence_at(sewing, factor, first, last)
    for start in range(first, last, block):
        _sew_block(sewing, factor, influence, start, min(start + block, last))


def _bond_for(sewing: Sewing, first: int, last: int) -> Floats:
    """The bond while stitches `first` to `last` are sewn, halfway, in ratio, between none and all pins."""
    return sewing.bond + PINS_RECKONED * _pins_to_come(sewing, first, last)


def _pins_to_come(sewing: Sewing, first: int, last: int) -> Floats:
    """How firmly (N,) stitches that are not sewn yet will join the layers, N/mm."""
    places = locate(sewing.cloth.grid, sewing.machine_mm[2 * first : 2 * last])
    return Pins(_pins(sewing, first, last).firmness, places).at_nodes(sewing)


def _sew_block(sewing: Sewing, factor: Factor, influence: Influence, first: int, last: int) -> None:
    still, loads = sewing.lie, sewing.bond_loads
    sewing.sewn = last
    sewing.pierce(first, last, np.zeros((2 * (last - first), 4)))
    sewing.lay(first, last)
    sewing.press()
    pins = _pins(sewing, first, last)
    if len(sewing.cloth.layers) == 2:
        sewing.bond = sewing.bond + pins.at_nodes(sewing)
    within = sew_within(sewing, influence_on(sewing, influence, first, last), first, last)
    # Later blocks begin with the match of the one before them.
    for _ in range(1 if first else 2):
        sewing.lie = still
        before = sewing.match * within.before_mm
        sewing.pierce(first, last, before)
        if len(sewing.cloth.layers) == 2:
            sewing.bond_loads = loads + pins.loads(sewing, before)
        untouched = sewing.drawn_mm(slice(first, last))
        sewing.settle(factor, BLOCK_SETTLED_MM)
        sewing.match = match(sewing, untouched, within, first, last)
    sewing.release_slack()


@dataclass(frozen=True, slots=True, eq=False)
class Pins:
    """How firmly (2 n, 1) new holes at ends of stitches join the layers, N/mm; none where one is shared."""

    firmness: Floats
    places: Places

    def at_nodes(self, sewing: Sewing) -> Floats:
        """How firmly (N,) they join the layers at the nodes, N/mm."""
        added = np.zeros((len(sewing.bond), 1))
        spread(self.firmness, self.places.node, self.places.weights, sewing.cols, added)
        return added[:, 0]

    def loads(self, sewing: Sewing, before: Floats) -> Floats:
        """The force (N, 2) of pins set where the layers have already slipped past each other."""
        slip = sewing.u_mm[0] - sewing.u_mm[1]
        loads: Floats = self.at_nodes(sewing)[:, None] * slip
        # Fabric less what a stitch feels is the stabiliser's share of the slip.
        meanwhile = (before[:, 2:] - before[:, :2]) / sewing.cloth.shares[1]
        spread(self.firmness * meanwhile, self.places.node, self.places.weights, sewing.cols, loads)
        return loads


def _pins(sewing: Sewing, first: int, last: int) -> Pins:
    ends = np.arange(2 * first, 2 * last)
    of_end = sewing.holes.of_end
    new = np.where(ends > 0, of_end[ends] != of_end[np.maximum(ends - 1, 0)], True)
    return Pins(
        sewing.pull.pin_n_per_mm * new[:, None], Places(sewing.ends.node[ends], sewing.ends.weights[ends])
    )
