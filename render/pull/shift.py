"""How far neighbouring objects move against each other, where they meet.

Over a window of 1.5 mm, moved on in steps of 0.5 mm, the movement of one object's thread is held
against that of another's in the same window: what is left is a gap that opens, or an overlap that
grows. A stitch moves as its middle does, so that a column which is merely drawn in does not count.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from render.model import HIDDEN_KINDS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Floats, Sewn, SewPlan

    Ints = NDArray[np.int64]

CELL_MM = 0.5  # a window is three cells by three
SAMPLE_MM = 0.25  # along the stitches
MOST_SHARE = 0.9  # of the windows where two objects meet; single stitches may stray further


@dataclass(frozen=True, slots=True, eq=False)
class Meeting:
    """Where objects meet: `one` and `other` (M,) are rows in the same window, of objects `one_object` and
    `other_object`; a row is all thread of one object in one window.

    `stitch`, `spot (T,)`: the stitch of each piece of thread, and the spot, one object's thread in one cell,
    that it belongs to. The thread of spot k counts in the nine rows `row (K, 9)`; `rows` how many there are.
    """

    stitch: Ints
    spot: Ints
    row: Ints
    rows: int
    one: Ints
    other: Ints
    one_object: Ints
    other_object: Ints


def meetings(plan: SewPlan) -> Meeting:
    """All windows in which two objects meet; underlay and ties meet none."""
    seen = np.array([part.kind not in HIDDEN_KINDS for part in plan.objects], bool)
    some = np.flatnonzero(seen[plan.object_index]) if len(seen) else np.zeros(0, np.int64)
    points, which = _along(plan.start_mm[some], plan.end_mm[some])
    stitch = some[which]
    cell = np.floor((points - points.min(0, initial=0.0)) / CELL_MM).astype(np.int64) + 1
    cols = int(cell[:, 0].max(initial=0)) + 2
    around = (np.arange(-1, 2)[:, None] * cols + np.arange(-1, 2)).ravel()
    named = (cell[:, 1] * cols + cell[:, 0]) * (len(seen) + 1) + plan.object_index[stitch]
    spots, spot = np.unique(named, return_inverse=True)
    at, owner = np.divmod(spots, len(seen) + 1)
    key, row = np.unique((at[:, None] + around) * (len(seen) + 1) + owner[:, None], return_inverse=True)
    place, who = np.divmod(key, len(seen) + 1)
    pairs = []
    apart = 1
    # Rows of one window lie side by side, one an object.
    while len(key) > apart and (same := np.flatnonzero(place[apart:] == place[:-apart])).size:
        pairs.append(np.stack([same, same + apart]))
        apart += 1
    one, other = np.concatenate(pairs, 1) if pairs else np.zeros((2, 0), np.int64)
    return Meeting(
        stitch=stitch,
        spot=spot.ravel(),
        row=row.reshape(-1, len(around)),
        rows=len(key),
        one=one,
        other=other,
        one_object=who[one],
        other_object=who[other],
    )


def shifts(sewn: Sewn, met: Meeting) -> Floats:
    """For each object (O,) its largest shift against a neighbour, mm; nan where it has none.

    Of the windows in which two objects meet, one in ten may show more.
    """
    plan = sewn.plan
    moved = 0.5 * (sewn.start_mm - plan.start_mm + sewn.end_mm - plan.end_mm)
    count = np.maximum(_in_rows(met, np.ones(len(met.stitch))), 1)
    mean = np.stack([_in_rows(met, moved[met.stitch, k]) / count for k in (0, 1)], 1)
    away = np.hypot(*(mean[met.one] - mean[met.other]).T)
    most = np.full(len(plan.objects), np.nan)
    pair = met.one_object * len(plan.objects) + met.other_object
    order = np.lexsort((away, pair))
    firsts = np.flatnonzero(np.diff(pair[order], prepend=-1))
    sizes = np.diff(np.append(firsts, len(order)))
    largest = away[order][firsts + (MOST_SHARE * (sizes - 1)).astype(np.int64)]
    for who in (met.one_object, met.other_object):
        np.fmax.at(most, who[order][firsts], largest)
    return most


def _in_rows(met: Meeting, values: Floats) -> Floats:
    """Sums (rows,) of values (T,) of pieces of thread over each row."""
    spots = np.bincount(met.spot, values, len(met.row))
    return np.asarray(np.bincount(met.row.ravel(), np.repeat(spots, met.row.shape[1]), met.rows), np.float64)


def _along(start: Floats, end: Floats) -> tuple[Floats, Ints]:
    """Points (P, 2) no further apart than `SAMPLE_MM` on the stitches, and whose stitch they are on."""
    steps = np.ceil(np.hypot(*(end - start).T) / SAMPLE_MM).astype(np.int64) + 1
    which = np.repeat(np.arange(len(start)), steps)
    step = np.arange(len(which)) - np.repeat(np.cumsum(steps) - steps, steps)
    share = step / np.maximum(steps - 1, 1)[which]
    points: Floats = start[which] + share[:, None] * (end - start)[which]
    return points, which
