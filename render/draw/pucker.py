"""Pucker: soft ridges where the stitching presses the cloth together, at right angles to the pressing.

Their heights are no prediction: how far cloth is pressed comes from the sewing, the rest is a likeness.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from render.apart import Apart
from render.compiled import njit
from render.disk_cache import code_of, kept
from render.draw import blur, grain
from render.draw.across import CELL_MM as MAP_MM
from render.draw.blur import blurred
from render.draw.dimples import STEPS_PER_MM
from render.draw.grain import hash_unit
from render.draw.shadow import NO_HOLLOW, add_slopes
from render.model import freeze

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from render.disk_cache import Arrays
    from render.model import ClothMove, Floats, Window

    Box = tuple[float, float, float, float]
    Singles = NDArray[np.float32]

CELL_MM = 0.5
AROUND_MM = 12.0  # cloth beyond the design that can pucker
# A sheet that cannot get shorter in its plane rises in waves of this slope (root of the mean square), by the
# root of what it is pressed together; and at most, before it folds (calibrated by eye).
SLOPE_GAIN, STEEPEST = 2**0.5, 0.26
FLATTEST = 0.03  # slopes that nobody sees (estimate)
# Half the usual distance of ridges in cloth of 0.01 N mm; it grows with the fourth root of bending stiffness,
# as of a sheet on an elastic bed (Hetenyi 1946). And the least and most of it (estimates).
RIDGE_MM, NARROWEST_MM, WIDEST_MM = 2.0, 1.5, 3.5
FLAT_MM = 0.36  # cloth pressed down so deep, as under closed stitching, has no ridges left (estimate)
LONG = 4.0  # how far a ridge runs, of that (estimate)
SOME_RIDGES = 1.5  # deviation of what lies beside a ridge, of that (estimate)
RUN_OUT = 1.4  # deviation of how it fades, of that (by eye)
_f, _i = np.float32, np.int32


@dataclass(frozen=True, slots=True, eq=False)
class Pucker:
    """Height (rows, cols) float32 of the ridges, mm, from `origin_mm` on in steps of `CELL_MM`.

    Under stitching the cloth is held flat: there it counts for nothing, see `draw_layers`.
    """

    height_mm: NDArray[np.float32]
    origin_mm: tuple[float, float]

    def __post_init__(self) -> None:
        freeze(self, height_mm=(-1, -1))


def cached_pucker(move: ClothMove, box_mm: Box, seed: int) -> Pucker | None:
    """As `pucker_of`, from disk if the same was made before."""

    def make() -> Arrays:
        made = pucker_of(move, box_mm, seed)
        return {"height_mm": np.empty((0, 0), np.float32) if made is None else made.height_mm}

    def fits(arrays: Arrays) -> bool:
        height = arrays.get("height_mm", np.empty(0))
        return height.ndim == 2 and height.dtype == np.float32 and bool(np.isfinite(height).all())

    told = hashlib.blake2b(np.ascontiguousarray(move.u_mm).data, digest_size=16).hexdigest()
    made_from = [told, move.u_mm.shape, move.origin_mm, move.cell_mm, move.bending_n_mm, box_mm, seed]
    made_by = code_of(__file__, blur.__file__, grain.__file__)
    arrays = kept("pucker", made_from, made_by=made_by, make=make, fits=fits)
    height_mm = arrays["height_mm"]
    origin_mm = box_mm[0] - AROUND_MM, box_mm[1] - AROUND_MM
    return Pucker(height_mm, origin_mm) if height_mm.size else None


def pucker_of(move: ClothMove, box_mm: Box, seed: int) -> Pucker | None:
    """The ridges around a design with this box; None where nothing presses the cloth enough."""
    pressed, along = _pressing(move)
    left, top, right, bottom = box_mm
    x = np.arange(left - AROUND_MM, right + AROUND_MM, CELL_MM)
    y = np.arange(top - AROUND_MM, bottom + AROUND_MM, CELL_MM)
    at = [
        (places - origin) / move.cell_mm for places, origin in zip((y, x), move.origin_mm[::-1], strict=True)
    ]
    beyond = _beyond(np.maximum(_sampled(pressed, at), np.float32(0.0)), move.buckles_at)
    slope = np.minimum(np.float32(SLOPE_GAIN) * np.sqrt(beyond), np.float32(STEEPEST))
    if slope.max() < FLATTEST:
        return None
    ridge_mm = min(max(RIDGE_MM * (move.bending_n_mm / 0.01) ** 0.25, NARROWEST_MM), WIDEST_MM)
    ridges = _ridges(_halved(*(_sampled(part, at) for part in along)), ridge_mm, seed)
    # A ridge does not end where the pressing does: it runs out over as much as its own width.
    height = blurred(slope, RUN_OUT * ridge_mm / CELL_MM, mirrored=True) * ridges
    return Pucker(height, (float(x[0]), float(y[0])))


def _beyond(pressed: Singles, buckles_at: float) -> Singles:
    """What ripples have to take up of a compression: of a large one all but what the cloth bears without,
    and of a small one little, as no cloth is quite flat: by its third power (by eye)."""
    bears = np.float32(buckles_at)
    return np.asarray(np.maximum(np.cbrt(pressed**3 + bears**3) - bears, 0.0), np.float32)


def _halved(cosine: Singles, sine: Singles) -> Singles:
    """Sine and cosine (2, rows, cols) of half the angles that had been doubled, so that a ridge has no front
    and back; the given ones share a scale."""
    half, none = np.float32(0.5), np.float32(0.0)
    own = half * cosine / np.maximum(np.hypot(cosine, sine), np.float32(1e-9))
    down, right = np.sqrt(np.maximum(half - own, none)), np.sqrt(np.maximum(half + own, none))
    return np.stack([np.copysign(down, sine), right])


def _sampled(values: Floats, at: Sequence[Floats]) -> Singles:
    """What lies between values at each of some rows and columns; beyond the edge what lies at it."""
    out = values.astype(np.float32)
    for axis, places in enumerate(at):
        last = out.shape[axis] - 1
        inside = np.clip(places, 0.0, last)
        cell = np.minimum(inside.astype(np.int64), last - 1)
        share = np.expand_dims((inside - cell).astype(np.float32), 1 - axis)
        low = out.take(cell, axis)
        out = np.asarray(low + (out.take(cell + 1, axis) - low) * share, np.float32)
    return out


def _pressing(move: ClothMove) -> tuple[Floats, Floats]:
    """Largest compression (rows, cols), and its direction as cosine and sine of twice its angle."""
    dy, dx = (np.gradient(move.u_mm, move.cell_mm, axis=axis) for axis in (0, 1))
    # Against the cloth at the rim: that a whole piece gets smaller off the hoop ripples nothing.
    strain = np.stack([dx[..., 0], dy[..., 1], 0.5 * (dx[..., 1] + dy[..., 0])])
    rim = np.concatenate([strain[:, 0], strain[:, -1], strain[:, :, 0], strain[:, :, -1]], axis=1)
    xx, yy, xy = strain - rim.mean(1)[:, None, None]
    radius = np.hypot(0.5 * (xx - yy), xy)
    pressed = -(0.5 * (xx + yy) - radius)
    # The direction of largest pull is that of (xx - yy, 2 xy); the pressing is across it.
    along = -np.stack([0.5 * (xx - yy), xy]) / np.maximum(radius, 1e-9)
    return pressed, along


def _ridges(across: Singles, ridge_mm: float, seed: int) -> Singles:
    """Noise whose slopes have a root mean square of 1 wherever some ridges lie beside each other, as cloth
    must rise to take up what it is pressed together; drawn out at right angles to `across` (2, rows, cols),
    (down, right)."""
    rows, cols = across.shape[1:]
    noise = _noise(rows, cols, ridge_mm, seed)
    run = np.stack([across[1], -across[0]])
    total = drawn_out(noise, run, round(LONG * ridge_mm / 2 / CELL_MM))
    down, right = np.gradient(total, CELL_MM)
    square = np.asarray(down * down + right * right, np.float32)
    around = blurred(square, SOME_RIDGES * ridge_mm / CELL_MM, mirrored=True)
    least = np.float32(0.1 * max(float(square.mean(dtype=np.float64)), 1e-18))
    return np.asarray(total / np.sqrt(np.maximum(around, least)))


@lru_cache(1)
def _noise(rows: int, cols: int, ridge_mm: float, seed: int) -> Singles:
    """Chance, as wide as ridges: a film asks for the same ones in each state of rest."""
    chance = hash_unit(np.arange(rows * cols), seed + 606).reshape(rows, cols) - 0.5
    return blurred(chance.astype(np.float32), ridge_mm / CELL_MM / 2, mirrored=True)


@njit(cache=True, nogil=True)
def drawn_out(noise: NDArray[np.float32], run: NDArray[np.float32], steps: int) -> NDArray[np.float32]:
    """Each place's noise plus that of so many steps along the field `run (2, rows, cols)`, down and right,
    either way."""
    rows, cols = noise.shape
    total, flat, down, right = noise.copy(), noise.ravel(), run[0].ravel(), run[1].ravel()
    walk = np.empty((4, cols), np.float32)
    for r in range(rows):
        for way in range(2):
            go = np.float32(1 - 2 * way)
            for c in range(cols):
                walk[0, c], walk[1, c] = np.float32(r), np.float32(c)
                walk[2, c], walk[3, c] = go * run[0, r, c], go * run[1, r, c]
            for _ in range(steps):
                step_on(walk[0], walk[1], walk[2], walk[3], flat, down, right, rows, total[r])
    return total


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def step_on(
    y: NDArray[np.float32],
    x: NDArray[np.float32],
    down: NDArray[np.float32],
    right: NDArray[np.float32],
    noise: NDArray[np.float32],
    run_down: NDArray[np.float32],
    run_right: NDArray[np.float32],
    rows: int,
    total: NDArray[np.float32],
) -> None:
    """Take a row's places one step on along the field, and add the noise there to their `total`."""
    cols = len(total)
    for c in range(cols):
        y[c], x[c] = y[c] + down[c], x[c] + right[c]
        # Beyond the edge lies what lies at it.
        v = min(max(y[c], _f(0.0)), _f(_i(rows - 1)))
        u = min(max(x[c], _f(0.0)), _f(_i(cols - 1)))
        j, i = min(_i(v), _i(rows - 2)), min(_i(u), _i(cols - 2))
        q, p, at = v - _f(j), u - _f(i), np.uintp(j * _i(cols) + i)
        below = at + np.uintp(cols)
        top = noise[at] + (noise[at + np.uintp(1)] - noise[at]) * p
        low = noise[below] + (noise[below + np.uintp(1)] - noise[below]) * p
        total[c] += top + (low - top) * q
        # Keep going the same way: the direction of a ridge has no sign of its own.
        near = np.uintp(_i(v + _f(0.5)) * _i(cols) + _i(u + _f(0.5)))
        turned_down, turned_right = run_down[near], run_right[near]
        back = _f(-1.0) if turned_down * down[c] + turned_right * right[c] < _f(0.0) else _f(1.0)
        down[c], right[c] = back * turned_down, back * turned_right


def held_down(pucker: Pucker, dimple_steps: NDArray[np.int16], anchor_mm: tuple[float, float]) -> Pucker:
    """The ridges as far as stitching, which presses the cloth down by the dimples of a `Stack` (rows, cols),
    does not hold it flat."""
    map_rows, map_cols = dimple_steps.shape
    left, top = (
        (origin - anchor) / MAP_MM + side // 2
        for origin, anchor, side in zip(pucker.origin_mm, anchor_mm, (map_cols, map_rows), strict=True)
    )
    height = np.empty_like(pucker.height_mm)
    press_flat(pucker.height_mm, dimple_steps, np.array([left, top, CELL_MM / MAP_MM]), height)
    return Pucker(height, pucker.origin_mm)


@njit(cache=True, nogil=True)
def press_flat(
    ridges: NDArray[np.float32],
    dimple_steps: NDArray[np.int16],
    frame: NDArray[np.float64],
    out: NDArray[np.float32],
) -> None:
    """Fill `out` with the ridges as far as the dimples leave them; `frame` is where the first of them lies on
    the map of dimples, x and y, and how far apart they are. Beyond the map nothing is pressed."""
    rows, cols = dimple_steps.shape
    for r in range(ridges.shape[0]):
        y = frame[1] + r * frame[2]
        for c in range(ridges.shape[1]):
            x = frame[0] + c * frame[2]
            depth = 0.0
            if 0.0 <= y <= rows - 1.0 and 0.0 <= x <= cols - 1.0:
                j, i = min(int(y), rows - 2), min(int(x), cols - 2)
                q, p = y - j, x - i
                top = dimple_steps[j, i] * (1.0 - p) + dimple_steps[j, i + 1] * p
                low = dimple_steps[j + 1, i] * (1.0 - p) + dimple_steps[j + 1, i + 1] * p
                depth = top * (1.0 - q) + low * q
            out[r, c] = ridges[r, c] * min(max(1.0 - depth / (FLAT_MM * STEPS_PER_MM), 0.0), 1.0)


def add_ridge_light(
    out: NDArray[np.float32],
    pucker: Pucker,
    window: Window,
    place: tuple[int, int],
    wanted: NDArray[np.bool_],
    *,
    towards: Floats,
    key_share: float,
) -> None:
    """Add to the light of level cloth in wanted pixels, from row and column `place` on, what slopes of the
    ridges make of it."""
    rows, cols = pucker.height_mm.shape
    step = 1.0 / (window.px_per_mm * CELL_MM)
    left, top = (
        window.centre_mm[axis] + (first + 0.5 - side / 2) / window.px_per_mm - pucker.origin_mm[axis]
        for axis, first, side in ((0, place[1], window.cols), (1, place[0], window.rows))
    )
    frame = np.array([left / CELL_MM - cols // 2, top / CELL_MM - rows // 2, step])
    # Heights, not depths.
    facing = towards[:2] / (-2.0 * CELL_MM * towards[2])
    add_slopes(out, pucker.height_mm, _f(1.0), frame, wanted, facing, key_share, NO_HOLLOW)
