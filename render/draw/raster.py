"""Which thread shows at each pixel: a height buffer over straight strand segments.

Pixel coordinates count from the middle of the window, so a turned or mirrored design
lands on exactly turned or mirrored pixels. Positions are snapped to 1/1024 pixel.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numba import njit

from render.draw.grain import noise1

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.draw.stack import Stack
    from render.draw.strands import Strands
    from render.model import Floats

SNAP_PER_PX = 1024.0
NOTHING = np.float32(-1e9)  # height where no thread lies
END_TAPER_MM = 0.25  # over this length a thread narrows into its hole
END_WIDTH = 0.80  # of its full width, at the hole
# Spun and twisted thread is never quite even: its width varies by this share over such lengths (estimate).
UNEVEN_WIDTH, UNEVEN_MM = 0.10, 0.9


@dataclass(frozen=True, slots=True, eq=False)
class PixelStrands:
    """Strands in the pixel frame of one window; `px_per_mm` already includes supersampling."""

    start_px: Floats
    end_px: Floats
    half_width_px: Floats
    half_height_mm: Floats
    dives: NDArray[np.bool_]
    height_mm: NDArray[np.float32]
    first: NDArray[np.int64]
    along_mm: Floats
    grain: NDArray[np.uint32]
    px_per_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class Buffers:
    """What the topmost thread is at each pixel of a rectangle: `height_mm` of its surface
    (`NOTHING` where there is none), `strand` index (-1), place `along` it in [0, 1] and
    `across` in [-1, 1], positive to the right of the direction of sewing."""

    height_mm: NDArray[np.float32]
    strand: NDArray[np.int32]
    along: NDArray[np.float32]
    across: NDArray[np.float32]


def to_pixels(
    strands: Strands, stacked: Stack, centre_mm: tuple[float, float], px_per_mm: float
) -> PixelStrands:
    """Strands as seen in a window around `centre_mm` (design space)."""
    offset = np.array(strands.anchor_mm) - np.array(centre_mm)

    def snapped(points: Floats) -> NDArray[np.float64]:
        return np.asarray(np.round((points + offset) * px_per_mm * SNAP_PER_PX) / SNAP_PER_PX)

    return PixelStrands(
        snapped(strands.start_mm),
        snapped(strands.end_mm),
        strands.half_width_mm * px_per_mm,
        strands.half_height_mm,
        strands.dives,
        stacked.height_mm,
        stacked.first,
        strands.along_mm,
        strands.grain,
        px_per_mm,
    )


def rasterise(
    strands: PixelStrands, chosen: NDArray[np.int64], rect: tuple[int, int, int, int], shape: tuple[int, int]
) -> Buffers:
    """Draw the `chosen` strands into the rectangle (first row, first col, rows, cols) of a
    window of `shape` pixels."""
    out = empty_buffers(rect[2], rect[3])
    raster_onto(out, strands, chosen, rect[:2], shape)
    return out


def empty_buffers(rows: int, cols: int) -> Buffers:
    """No thread yet."""
    return Buffers(
        np.full((rows, cols), NOTHING, np.float32),
        np.full((rows, cols), -1, np.int32),
        np.zeros((rows, cols), np.float32),
        np.zeros((rows, cols), np.float32),
    )


def raster_onto(
    out: Buffers,
    strands: PixelStrands,
    chosen: NDArray[np.int64],
    corner: tuple[int, int],
    shape: tuple[int, int],
) -> None:
    """Draw more strands, later ones than those before, onto buffers that begin at a corner (row, column)."""
    raster(
        strands.start_px,
        strands.end_px,
        strands.half_width_px,
        strands.half_height_mm,
        strands.dives,
        strands.height_mm,
        strands.first,
        strands.along_mm,
        strands.grain,
        chosen,
        np.array([corner[0] - shape[0] / 2 + 0.5, corner[1] - shape[1] / 2 + 0.5, strands.px_per_mm]),
        out.height_mm,
        out.strand,
        out.along,
        out.across,
    )


@njit(cache=True, nogil=True)
def raster(
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    half_width: NDArray[np.float64],
    half_height: NDArray[np.float64],
    dives: NDArray[np.bool_],
    samples: NDArray[np.float32],
    first: NDArray[np.int64],
    along_mm: NDArray[np.float64],
    grain: NDArray[np.uint32],
    chosen: NDArray[np.int64],
    frame: NDArray[np.float64],
    height: NDArray[np.float32],
    strand: NDArray[np.int32],
    along: NDArray[np.float32],
    across: NDArray[np.float32],
) -> None:
    """Keep the highest surface per pixel. `frame` is (y of row 0, x of column 0, pixels a mm)."""
    rows, cols = height.shape
    y0, x0, px_per_mm = frame[0], frame[1], frame[2]
    taper = END_TAPER_MM * px_per_mm
    for i in chosen:
        run_x, run_y = end[i, 0] - start[i, 0], end[i, 1] - start[i, 1]
        length = np.sqrt(run_x * run_x + run_y * run_y)
        if length == 0.0:
            continue
        tx, ty = run_x / length, run_y / length
        a, b = half_width[i], half_height[i]
        at, n = first[i], first[i + 1] - first[i]
        cap = 0.5 * a
        end_reach = min(taper, 0.45 * length)
        low = min(start[i, 1], end[i, 1]) - a - cap
        high = max(start[i, 1], end[i, 1]) + a + cap
        for r in range(max(0, int(np.ceil(low - y0))), min(rows - 1, int(np.floor(high - y0))) + 1):
            y = y0 + r - start[i, 1]
            # One pixel wider than needed: `section` decides, not the rounding of the span.
            span_low, span_high = _row_span(y, tx, ty, a, -cap, length + cap)
            if span_low > span_high:
                continue
            left = max(0, int(np.ceil(span_low + start[i, 0] - x0)) - 1)
            right = min(cols - 1, int(np.floor(span_high + start[i, 0] - x0)) + 1)
            for c in range(left, right + 1):
                x = x0 + c - start[i, 0]
                t = x * tx + y * ty
                v = (y * tx - x * ty) / a
                inside = min(max(t, 0.0), length)
                over = (t - inside) / cap
                # Most pixels beside a strand are out at its full width already.
                if v * v + over * over >= 1.0:
                    continue
                wave = (along_mm[i] + inside / px_per_mm) / UNEVEN_MM
                width = 1.0 - UNEVEN_WIDTH * (1.0 + noise1(wave, int(grain[i]))) * 0.5
                if dives[i, 0] and inside < end_reach:
                    u = 1.0 - inside / end_reach
                    width *= 1.0 - (1.0 - END_WIDTH) * u * u
                if dives[i, 1] and length - inside < end_reach:
                    u = 1.0 - (length - inside) / end_reach
                    width *= 1.0 - (1.0 - END_WIDTH) * u * u
                v /= width
                section = 1.0 - v * v - over * over
                if section <= 0.0:
                    continue
                place = inside / length
                k = place * (n - 1)
                k0 = min(int(k), n - 2)
                z = samples[at + k0] + (samples[at + k0 + 1] - samples[at + k0]) * (k - k0)
                # Rounded before it is compared, so that of two level strands the later one shows.
                top = np.float32(z + b * (1.0 + np.sqrt(section)))
                if top >= height[r, c]:
                    height[r, c] = top
                    strand[r, c] = i
                    along[r, c] = place
                    across[r, c] = v


@njit(cache=True, nogil=True, inline="always")
def _row_span(y: float, tx: float, ty: float, a: float, low: float, high: float) -> tuple[float, float]:
    """Interval of x on the row y where |across| <= a and low <= along <= high."""
    left, right = -1e12, 1e12
    if ty != 0.0:
        p, q = (y * tx - a) / ty, (y * tx + a) / ty
        left, right = max(left, min(p, q)), min(right, max(p, q))
    elif abs(y * tx) > a:
        return 1.0, 0.0
    if tx != 0.0:
        p, q = (low - y * ty) / tx, (high - y * ty) / tx
        left, right = max(left, min(p, q)), min(right, max(p, q))
    elif y * ty < low or y * ty > high:
        return 1.0, 0.0
    return left, right
