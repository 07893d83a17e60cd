"""How the cloth lay while it was sewn: between its states of rest it moves evenly, stitch by stitch."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import replace
from typing import TYPE_CHECKING, TypeVar

import numpy as np
from scipy.ndimage import map_coordinates, maximum_filter

from render.draw.aside import (
    Aside,
    add_drag,
    aside_of,
    dragged_mm,
    gone_along,
    places_over,
    places_within,
    spread_drag,
)
from render.draw.pucker import CELL_MM, Pucker, pucker_of
from render.draw.unmoved import first_places_mm, moved_mm

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import ClothMove, Floats, Sewn

    Felt = NDArray[np.float32]

Kept = TypeVar("Kept")
KEPT_RESTS = 8  # for which it is known how ridges and yarns lie: tiles are seldom drawn further ahead
KEPT_MOMENTS = 12  # for which moves and ridges are mixed: more than are drawn of one frame in two pictures


class Way:
    """The cloth's way from flat to finished, by the number of stitches sewn, a fraction in between.

    A piece that is taken out of the hoop goes on from its last stitch for one more.
    """

    def __init__(self, sewn: Sewn, seed: int) -> None:
        if sewn.cloth is None or not sewn.rests:
            raise ValueError("a cloth that moves needs its states of rest: sew with keep_rests")
        first, last = sewn.rests[0], sewn.rests[-1]
        moves = [replace(first.move, u_mm=np.zeros_like(first.move.u_mm)), *(r.move for r in sewn.rests)]
        self.at = [0.0, *(float(r.stitches) for r in sewn.rests)]
        self.sewn = self.at[-1]  # when the last stitch has been sewn
        if np.array_equal(last.move.u_mm, sewn.cloth.u_mm):
            moves[-1] = sewn.cloth
        else:
            moves.append(sewn.cloth)
            self.at.append(last.stitches + 1.0)
        self.moves = moves
        # Where each stitch began and ended before the cloth moved, two of (S, 2).
        self.laid_mm = tuple(self.first_places_mm(places) for places in (sewn.start_mm, sewn.end_mm))
        self._box_mm, self._seed = sewn.plan.box_mm, seed
        self._drag_mm = dragged_mm(sewn, seed)
        self._last_aside = aside_of(sewn, seed)
        self._first, self._shape = places_over(self._box_mm)
        self._felt: dict[int, tuple[Felt, Felt]] = {}
        self._ridges: dict[int, Pucker | None] = {}
        self._mixed: dict[float, Pucker | None] = {}
        self._moved: dict[float, ClothMove] = {}

    @property
    def end(self) -> float:
        return self.at[-1]

    def between(self, stitches: float) -> tuple[int, float]:
        """The rest before, and the share of the way to the next."""
        stitches = min(max(stitches, 0.0), self.end)
        rest = min(bisect_right(self.at, stitches) - 1, len(self.at) - 2)
        return rest, (stitches - self.at[rest]) / (self.at[rest + 1] - self.at[rest])

    def move(self, stitches: float) -> ClothMove:
        """The cloth after so many stitches."""
        rest, share = self.between(stitches)
        before, after = self.moves[rest], self.moves[rest + 1]
        if share == 1.0:
            return after
        known = self._moved
        if stitches not in known:
            move = replace(after, u_mm=before.u_mm * (1.0 - share) + after.u_mm * share)
            self._moved = known = _with(known, stitches, move)
        return known[stitches]

    def first_places_mm(self, places_mm: Floats) -> NDArray[np.float64]:
        """Where the cloth that lies at `places_mm (N, 2)` at the end lay before the first stitch."""
        return first_places_mm(self.moves[-1], places_mm)

    def aside(self, stitches: float, rect_mm: Floats) -> tuple[Aside, ...]:
        """How single yarns lie after so many stitches within (left, top, right, bottom)."""
        if stitches >= self.end:
            return (self._last_aside,)
        rest, share = self.between(stitches)
        first, place = places_within(rect_mm, self._first, self._shape)
        before, after = (felt[place] for felt in self._felt_at_rest(rest))
        felt = before * np.float32(1.0 - share) + after * np.float32(share)
        new = slice(int(self.at[rest]), int(min(stitches, self.sewn)))
        if new.stop > new.start:
            add_drag(felt, *self._holes(new, self.move(stitches)), first)
        return (Aside(gone_along(felt), first),)

    def _felt_at_rest(self, rest: int) -> tuple[Felt, Felt]:
        """What yarns feel at a state of rest of the holes so far, and of the same ones at the next."""
        known = self._felt.get(rest)
        if known is None:
            so_far = slice(0, int(self.at[rest]))
            one, other = (
                spread_drag(*self._holes(so_far, move), self._first, self._shape)
                for move in self.moves[rest : rest + 2]
            )
            known = one, other
            # Those long before are not asked for again. Two pictures ask at once: the table is never changed.
            kept = tuple(self._felt.items())
            self._felt = {k: v for k, v in kept if k > rest - KEPT_RESTS} | {rest: known}
        return known

    def _holes(self, some: slice, move: ClothMove) -> tuple[Floats, Floats]:
        """Where the holes of some stitches lie, and how far they drag yarns."""
        holes_mm = np.concatenate([places[some] for places in self.laid_mm])
        each = len(self._drag_mm) // 2
        drag_mm = np.concatenate([self._drag_mm[:each][some], self._drag_mm[each:][some]])
        return holes_mm + moved_mm(move, holes_mm), drag_mm

    def ridges(self, stitches: float, rect_mm: Floats) -> Pucker | None:
        """Ridges on the part of the cloth within (left, top, right, bottom); None where none rise."""
        whole = self._whole_ridges(stitches)
        if whole is None:
            return None
        cut, origin = [], []
        for axis in (1, 0):
            first, cells = whole.origin_mm[1 - axis], whole.height_mm.shape[axis]
            low = min(max(int((rect_mm[1 - axis] - first) / CELL_MM) - 2, 0), cells - 2)
            high = min(max(int((rect_mm[3 - axis] - first) / CELL_MM) + 4, low + 2), cells)
            cut.append(slice(low, high))
            origin.append(first + low * CELL_MM)
        return Pucker(whole.height_mm[cut[1], cut[0]].copy(), (origin[0], origin[1]))

    def _whole_ridges(self, stitches: float) -> Pucker | None:
        """Ridges everywhere: many parts ask for those of one moment."""
        known = self._mixed
        if stitches in known:
            return known[stitches]
        rest, share = self.between(stitches)
        weighed = (self._ridges_at_rest(rest), 1.0 - share), (self._ridges_at_rest(rest + 1), share)
        parts = [(part, np.float32(weight)) for part, weight in weighed if part is not None]
        mixed = None
        if parts:
            height = np.asarray(sum(part.height_mm * weight for part, weight in parts), np.float32)
            mixed = Pucker(height, parts[0][0].origin_mm)
        self._mixed = _with(known, stitches, mixed)
        return mixed

    def _ridges_at_rest(self, rest: int) -> Pucker | None:
        known = self._ridges
        if rest not in known:
            made = pucker_of(self.moves[rest], self._box_mm, self._seed)
            self._ridges = known = {k: v for k, v in known.items() if k > rest - KEPT_RESTS} | {rest: made}
        return known[rest]

    def steepening(self, rest: int, places_mm: Floats, reach_mm: float) -> NDArray[np.float64]:
        """How much steeper (N,) ridges get from one rest to the next within reach of places (N, 2)."""
        before, after = (self._ridges_at_rest(end) for end in (rest, rest + 1))
        frame = before or after
        if frame is None:
            return np.zeros(len(places_mm))
        change = sum(
            part.height_mm * sign for part, sign in ((before, -1.0), (after, 1.0)) if part is not None
        )
        slope = np.hypot(*np.gradient(np.asarray(change, np.float64), CELL_MM))
        steepest = maximum_filter(slope, 2 * int(np.ceil(reach_mm / CELL_MM)) + 1)
        at = [(places_mm[:, axis] - frame.origin_mm[axis]) / CELL_MM for axis in (1, 0)]
        return np.asarray(map_coordinates(steepest, at, order=0, mode="nearest"))


def _with(known: dict[float, Kept], moment: float, found: Kept) -> dict[float, Kept]:
    """The last moments and what was found of them. Two pictures ask at once: no table is ever changed."""
    return dict([*known.items(), (moment, found)][-KEPT_MOMENTS:])
