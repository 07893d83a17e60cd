"""Which thread shows at each pixel: a height buffer over straight strand segments."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from render.ahead import LINE, ask
from render.apart import Apart, Lent
from render.columns import EIGHT, turn_four
from render.compiled import njit
from render.draw.noted import note_places
from render.draw.profile import ASIDE, HALF_HEIGHT, HEIGHT, SLIMNESS, course_at
from render.draw.span import FRAME, SLACK_PX, columns_in, fill_span

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.draw.pixel_strands import PixelStrands

NOTHING = np.float32(-1e9)  # height where no thread lies
OUTSIDE = np.float32(-2e9)  # lower still: of a strand beside itself
CAP = 0.5  # of its half-width: the round end beyond the middle of the hole
# Places are looked up by the compiler so many at a time: fewer it would take one by one.
AHEAD = 16
# Each place is looked at so far from its middle: in even rows to the right and in odd ones to the left, in
# even columns higher and in odd ones lower. Two by two then lie in four columns and four rows, and an edge
# that nearly follows either has twice as many steps (a rotated grid: common in drawing, from memory).
ASKEW_PX = 0.25
SHAPE = 5
# Places at which a strand's course is known from one sample to the next while heights are compared: a place
# between takes the nearest, at most 0.006 mm away.
FINE = 8
# Numbers of a row of the fine course: height of its section's middle, half of that's height, slimness, aside.
KNOWN = 4
_f = np.float32
_i = np.int32


@dataclass(frozen=True, slots=True, eq=False)
class Buffers:
    """What the topmost thread is at each pixel of a rectangle: `height_mm` of its surface
    (`NOTHING` where there is none), `strand` index (-1). If asked for, also the place `along` it
    in [0, 1] and `across` in [-1, 1], positive to the right of the direction of sewing; else both
    are empty."""

    height_mm: NDArray[np.float32]
    strand: NDArray[np.int32]
    along: NDArray[np.float32]
    across: NDArray[np.float32]


def rasterise(
    strands: PixelStrands,
    chosen: NDArray[np.int64],
    rect: tuple[int, int, int, int],
    shape: tuple[int, int],
    *,
    places: bool = True,
    askew_px: float = ASKEW_PX,
) -> Buffers:
    """Draw the `chosen` strands into the rectangle (first row, first col, rows, cols) of a
    window of `shape` pixels; without `places`, only which and how high."""
    out = empty_buffers(rect[2], rect[3], places=places)
    raster_onto(out, strands, chosen, rect[:2], shape, askew_px=askew_px)
    return out


def empty_buffers(rows: int, cols: int, *, places: bool = True) -> Buffers:
    """No thread yet."""
    shape = (rows, cols) if places else (0, 0)
    return Buffers(
        np.full((rows, cols), NOTHING, np.float32),
        np.full((rows, cols), -1, np.int32),
        np.zeros(shape, np.float32),
        np.zeros(shape, np.float32),
    )


def raster_onto(
    out: Buffers,
    strands: PixelStrands,
    chosen: NDArray[np.int64],
    corner: tuple[int, int],
    shape: tuple[int, int],
    *,
    askew_px: float = ASKEW_PX,
) -> None:
    """Draw more strands, later ones than those before, onto buffers that begin at a corner (row, column)."""
    cols = out.height_mm.shape[1]
    longest = int((strands.first[1:] - strands.first[:-1])[chosen].max(initial=0))
    raster(
        strands.start_px,
        strands.end_px,
        strands.run,
        strands.half_width_px,
        strands.profile,
        strands.first,
        chosen,
        np.array(corner),
        np.array([shape[0] / 2 - 0.5, shape[1] / 2 - 0.5]),
        np.float32(askew_px),
        np.empty((FINE * longest, KNOWN), np.float32),
        np.empty((2, FRAME)),
        np.empty(2, np.int64),
        np.empty(2, np.int64),
        np.empty(SHAPE, np.float32),
        np.empty(cols + AHEAD, np.int32),
        np.empty((KNOWN, cols + AHEAD), np.float32),
        np.empty(cols + AHEAD, np.float32),
        out.height_mm,
        out.strand,
        out.along,
        out.across,
    )


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Lent)
def raster(
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    run: NDArray[np.float64],
    half_width: NDArray[np.float64],
    profile: NDArray[np.float32],
    first: NDArray[np.int64],
    chosen: NDArray[np.int64],
    corner: NDArray[np.int64],
    middle: NDArray[np.float64],
    askew: np.float32,
    known: NDArray[np.float32],
    frames: NDArray[np.float64],
    lows: NDArray[np.int64],
    stops: NDArray[np.int64],
    shape: NDArray[np.float32],
    places: NDArray[np.int32],
    looked: NDArray[np.float32],
    higher: NDArray[np.float32],
    height: NDArray[np.float32],
    strand: NDArray[np.int32],
    along: NDArray[np.float32],
    across: NDArray[np.float32],
) -> None:
    """Keep the highest surface per pixel, of level ones the later; `chosen` rise, above all drawn before.

    `corner` is the window's (row, column) that the buffers begin at, `middle` that of its middle; `known`,
    `frames`, `lows` and `stops` of two strands, `shape`, `places`, `looked` and `higher` are room to work in,
    see `lay_strand`.
    """
    rows, cols = height.shape
    y0, x0 = corner[0] - middle[0], corner[1] - middle[1]
    lean = askew if corner[0] & 1 == 0 else -askew
    course, fine, columns = profile.reshape(-1), known.reshape(-1), looked.reshape(-1)
    for c in range(len(higher)):
        higher[c] = askew if (corner[1] + c) & 1 == 0 else -askew
    heights, strands = height.reshape(-1), strand.reshape(-1)
    alongs, acrosses = along.reshape(-1), across.reshape(-1)
    for k in range(len(chosen) + 1):
        # What the next strand will be laid onto is asked for while this one is laid.
        if k < len(chosen):
            n = chosen[k]
            tx, ty, length = run[n, 0], run[n, 1], run[n, 2]
            frame = frames[k & 1]
            side, beyond = half_width[n] + 2 * ASKEW_PX, CAP * half_width[n] + 2 * ASKEW_PX
            frame[0], frame[1] = start[n, 0] - x0, start[n, 1] - y0
            fill_span(tx, ty, side, -beyond, length + beyond, frame)
            reach = side * abs(tx) + beyond * abs(ty) + SLACK_PX
            lows[k & 1] = max(0, int(np.ceil(min(start[n, 1], end[n, 1]) - reach - y0)))
            stops[k & 1] = min(rows - 1, int(np.floor(max(start[n, 1], end[n, 1]) + reach - y0))) + 1
            ask_for(lows[k & 1], stops[k & 1], cols, frame, heights, strands)
        if k == 0:
            continue
        i, low, stop, frame = chosen[k - 1], lows[k - 1 & 1], stops[k - 1 & 1], frames[k - 1 & 1]
        tx, ty, length = run[i, 0], run[i, 1], run[i, 2]
        if length == 0.0:
            continue
        n = first[i + 1] - first[i]
        shape[0], shape[1], shape[2], shape[3] = tx, ty, length, (n - 1) / length
        shape[4] = 1.0 / (CAP * half_width[i])
        refine(course, first[i], n, fine)
        lay_strand(
            np.int32(i), low, stop, cols, lean, higher, frame, shape, fine, places, columns, heights, strands
        )
        if along.size > 0:
            note_places(
                i,
                low,
                stop,
                cols,
                lean,
                higher,
                frame,
                shape,
                first[i],
                n - 2,
                course,
                strands,
                alongs,
                acrosses,
            )


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def ask_for(
    low: int,
    stop: int,
    cols: int,
    frame: NDArray[np.float64],
    heights: NDArray[np.float32],
    strands: NDArray[np.int32],
) -> None:
    """Ask for the memory that a strand will be laid onto."""
    for r in range(low, stop):
        left, count = columns_in(r, cols, frame)
        for c in range((r * cols + left) // LINE * LINE, r * cols + left + count, LINE):
            ask(heights, c)
            ask(strands, c)


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def refine(course: NDArray[np.float32], first: int, samples: int, fine: NDArray[np.float32]) -> None:
    """Fill in the course of a strand of so many samples, `FINE` places to each and a row for each place."""
    for place in range(FINE * (samples - 1) + 1):
        # The last sample ends the stretch before it.
        k = min(place // FINE, samples - 2)
        here, at, w = np.uintp(first + k), np.uintp(KNOWN * place), _f(_i(place - FINE * k)) * _f(1.0 / FINE)
        half = course_at(course, here, w, HALF_HEIGHT)
        fine[at], fine[at + np.uintp(1)] = course_at(course, here, w, HEIGHT) + half, half
        fine[at + np.uintp(2)] = course_at(course, here, w, SLIMNESS)
        fine[at + np.uintp(3)] = course_at(course, here, w, ASIDE)


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def lay_strand(
    i: Any,
    low: int,
    stop: int,
    cols: int,
    lean: Any,
    higher: NDArray[np.float32],
    frame: NDArray[np.float64],
    shape: NDArray[np.float32],
    fine: NDArray[np.float32],
    places: NDArray[np.int32],
    columns: NDArray[np.float32],
    heights: NDArray[np.float32],
    strands: NDArray[np.int32],
) -> None:
    """Lay strand i, whose course is `fine`, over rows from `low` on: row 0 is looked at so far to the right
    as it does `lean`, columns so much `higher`. `frame` is of `columns_in`, `shape` of `note_places`;
    `places` and `columns` are room for a row.

    Where to look is worked out first, and what is seen there taken at one go: in one loop the compiler would
    do so for one pixel and one number at a time.
    """
    tx, ty, length, over_cap = shape[0], shape[1], shape[2], shape[4]
    per_px = shape[3] * _f(FINE)
    wide = len(places)
    half, slim, aside = np.uintp(wide), np.uintp(2 * wide), np.uintp(3 * wide)
    for r in range(low, stop):
        left, count = columns_in(r, cols, frame)
        x, y, at = _f(left - frame[0]) + (lean if r & 1 == 0 else -lean), _f(r - frame[1]), r * cols + left
        from_left = np.uintp(left)
        for j in range((count + AHEAD - 1) // AHEAD * AHEAD):
            t = (x + _f(_i(j))) * tx + (y - higher[from_left + np.uintp(j)]) * ty
            places[j] = _i(min(max(t, _f(0.0)), length) * per_px + _f(0.5))
        for j in range(0, (count + EIGHT - 1) // EIGHT * EIGHT, EIGHT):
            turn_four(fine, places, j, KNOWN, columns, j, wide)
        for j in range(count):
            c, right, k = np.uintp(at + j), x + _f(_i(j)), np.uintp(j)
            down = y - higher[from_left + np.uintp(j)]
            t = right * tx + down * ty
            inside = min(max(t, _f(0.0)), length)
            v = (down * tx - right * ty - columns[k + aside]) * columns[k + slim]
            over = (t - inside) * over_cap
            bulge = _f(1.0) - v * v - over * over
            top = columns[k] + columns[k + half] * np.sqrt(max(bulge, _f(0.0)))
            known, name = heights[c], strands[c]
            top = top if bulge > _f(0.0) else OUTSIDE
            # No store is left to chance here: masked ones take some processors long.
            # Later strands have higher numbers.
            strands[c] = max(name, i if top >= known else _i(-1))
            heights[c] = max(top, known)
