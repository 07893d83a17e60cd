"""Light on the looks of a scene, linear, white card = 1: cloth, plain surfaces, thread over cloth."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from render.compiled import njit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Light

    Vector = tuple[float, float, float]

GROUND_BOUNCE = 0.10  # light that comes up from below and behind, as a share of a card's (estimate)
# Of the light that a fold keeps away, cloth beside it gives back so much, times its own colour (estimate).
REFILL = 0.55


@dataclass(frozen=True, slots=True, eq=False)
class Lamps:
    """The lights as the kernels need them, white card = 1.

    `rows (L, 7)`: direction, irradiance over pi in RGB, and the sine of half the lamp's width; the
    first is the key. `dome (3,)`; `card (3,)` is the light of a card that faces the viewer.
    """

    rows: NDArray[np.float64]
    dome: NDArray[np.float64]
    card: NDArray[np.float64]


def lamps_of(light: Light) -> Lamps:
    """A set-up for the kernels."""
    from render.draw.exposure import white_card_linear
    from render.draw.sheen import lamp_direction

    white = white_card_linear(light)
    rows = [
        [
            *lamp_direction(lamp.azimuth_deg, lamp.elevation_deg),
            *(np.array(lamp.colour_linear) * lamp.irradiance / np.pi / white),
            np.sin(np.deg2rad(lamp.size_deg / 2)),
        ]
        for lamp in light.lamps
    ]
    table = np.array(rows).reshape(-1, 7)
    dome = np.array(light.dome_linear) / white
    return Lamps(table, dome, (table[:, 2:3] * table[:, 3:6]).sum(0) + dome)


def towards_dark(lamps: Lamps) -> NDArray[np.float64]:
    """Which way (2,), right and down, lies away from the key lamp; none without one, or right below it."""
    if not len(lamps.rows):
        return np.zeros(2)
    aside = lamps.rows[0, :2]
    return -aside / max(float(np.hypot(*aside)), 1e-9)


@njit(cache=True, nogil=True)
def light_looks(
    pixel: NDArray[np.int64],
    share: NDArray[np.float32],
    part: NDArray[np.int16],
    values: NDArray[np.float32],
    uv: NDArray[np.float32],
    count: NDArray[np.int8],
    flat: NDArray[np.float32],
    colour: NDArray[np.float32],
    material: NDArray[np.float64],
    lamps: NDArray[np.float64],
    dome: NDArray[np.float64],
    card: NDArray[np.float64],
    camera: NDArray[np.float64],
    thread: NDArray[np.float32],
    seen_share: NDArray[np.float32],
    pressed: NDArray[np.float32],
    window: NDArray[np.float64],
    out: NDArray[np.float32],
) -> None:
    """Add the light of each look to its pixel of `out (rows, cols, 3 K)`, in K sets of colours.

    `flat (G, 3 K)` is what level cloth would show, `colour (K, P, 3)` that of each part, linear, and
    `material (P, 3)` gloss, fuzz, and whether the design is on it. `camera`: its axes, nine numbers, and
    px, columns / 2, first row - rows / 2; `thread (rows, cols, 3 K)` in the `window` (x, y of its middle
    in mm, pixels a mm), as the other two.
    """
    cols, sets = out.shape[1], len(colour)
    # Of every set one after the other, so that all sets are worked out many numbers at a time.
    made = np.empty(3 * sets, np.float32)
    by_sky, shine = np.empty_like(made), np.empty_like(made)
    own = np.empty((len(material), 3 * sets), np.float32)
    for which in range(sets):
        own[:, 3 * which : 3 * which + 3] = colour[which]
    sums = np.empty(3 + 3 * sets, np.float32)
    sums[:] = 0.0
    for g in range(len(pixel)):
        p = part[g]
        if p < 0:
            continue
        row, col = pixel[g] // cols, pixel[g] % cols
        view = _towards_viewer(camera, row, col)
        normal, sky = _facing_it((values[g, 2], values[g, 3], values[g, 4]), view, values[g, 6])
        gloss = material[p, 0]
        for j in range(3):
            by_sky[j] = dome[j] / card[j] * sky
            made[j] = GROUND_BOUNCE * (1.0 - normal[2]) * 0.5
            shine[j] = 0.0
        for k in range(len(lamps)):
            reach = values[g, 5] if k == 0 else 0.4 + 0.6 * min(sky, 1.0)
            _add_lamp(lamps[k], card, normal, view, reach, gloss, made, shine)
        edge = 1.0 - _dot(normal, view)
        rim = material[p, 1] * edge * edge * edge
        if gloss > 0.0:
            mirror = gloss * (0.04 + 0.5 * edge**5) * min(sky, 1.0)
            for j in range(3):
                shine[j] += mirror * dome[j] * 1.6
        open_light = 1.0
        sums[3:] = 0.0
        if material[p, 2] > 0.0 and len(seen_share) > 1:
            _thread_over(uv[g], count[g], thread, seen_share, pressed, seen_share, window, sums)
            open_light = sums[0] * sums[1]
        for m in range(3, 3 * sets):
            made[m], by_sky[m], shine[m] = made[m - 3], by_sky[m - 3], shine[m - 3]
        weights = (REFILL * (1.0 - min(sky, 1.0)), rim, open_light, share[g])
        _show(own[p], made, by_sky, shine, flat[g], sums[3:], weights, out[row, col])


@njit(cache=True, nogil=True)
def _add_lamp(
    lamp: NDArray[np.float64],
    card: NDArray[np.float64],
    normal: Vector,
    view: Vector,
    reach: float,
    gloss: float,
    made: NDArray[np.float32],
    shine: NDArray[np.float32],
) -> None:
    """Add what a lamp, of whose light such a share gets there, gives a surface, and its mirror image."""
    towards, width = (lamp[0], lamp[1], lamp[2]), lamp[6]
    c = _above_horizon(_dot(normal, towards), width)
    for j in range(3):
        made[j] += lamp[3 + j] * c * reach / card[j]
    if gloss > 0.0:
        spot = _mirrored(normal, view, towards, width, gloss)
        for j in range(3):
            shine[j] += spot * reach * gloss * 0.35 * lamp[3 + j] * np.pi


@njit(cache=True, nogil=True)
def _dot(one: Vector, other: Vector) -> float:
    return one[0] * other[0] + one[1] * other[1] + one[2] * other[2]


@njit(cache=True, nogil=True)
def _towards_viewer(camera: NDArray[np.float64], row: int, col: int) -> Vector:
    """Unit vector from what a pixel of the band shows to the `camera` of `light_looks`."""
    sx, sy = (col + 0.5 - camera[10]) / camera[9], (row + 0.5 + camera[11]) / camera[9]
    x = camera[6] - sx * camera[0] - sy * camera[3]
    y = camera[7] - sx * camera[1] - sy * camera[4]
    z = camera[8] - sx * camera[2] - sy * camera[5]
    long = np.sqrt(x * x + y * y + z * z)
    return x / long, y / long, z / long


@njit(cache=True, nogil=True)
def _facing_it(normal: Vector, view: Vector, sky: float) -> tuple[Vector, float]:
    """The normal, made a unit vector, of the side that is seen, and the share of sky over it: of a back a
    usual one."""
    x, y, z = normal
    long = np.sqrt(x * x + y * y + z * z) + 1e-12
    x, y, z = x / long, y / long, z / long
    if _dot((x, y, z), view) < 0.0:
        return (-x, -y, -z), 0.6
    return (x, y, z), sky


@njit(cache=True, nogil=True)
def _above_horizon(cosine: float, width: float) -> float:
    """What of a lamp so wide lights a surface at this cosine: it sets behind the horizon bit by bit."""
    return cosine if cosine > width else max(cosine + width, 0.0) ** 2 / (4.0 * width + 1e-9)


@njit(cache=True, nogil=True)
def _mirrored(normal: Vector, view: Vector, towards: Vector, width: float, gloss: float) -> float:
    """How much of a lamp's mirror image on a smooth skin is seen."""
    half = (view[0] + towards[0], view[1] + towards[1], view[2] + towards[2])
    h = max(_dot(normal, half) / (np.sqrt(_dot(half, half)) + 1e-9), 0.0)
    return float(np.exp(-(1.0 - h) / (0.004 + 0.10 * width * width + 0.03 * (1.0 - gloss))))


@njit(cache=True, nogil=True)
def _show(
    own: NDArray[np.float32],
    made: NDArray[np.float32],
    by_sky: NDArray[np.float32],
    shine: NDArray[np.float32],
    flat: NDArray[np.float32],
    thread: NDArray[np.float32],
    weights: tuple[float, float, float, float],
    out: NDArray[np.float32],
) -> None:
    """Add what cloth, its skin and thread over it show in all sets, (3 K,) each. `weights`: the share of the
    sky that is hidden and filled again, the light of the rim, the share of cloth that is seen, and that of
    the pixel."""
    hidden, rim = np.float32(weights[0]), np.float32(weights[1])
    open_light, share = np.float32(weights[2]), np.float32(weights[3])
    quarter, least, one = np.float32(0.25), np.float32(0.05), np.float32(1.0)
    for m in range(len(out)):
        cloth = flat[m] + rim * (quarter * own[m] + least)
        light = (made[m] + by_sky[m] / (one - own[m] * hidden)) * cloth + shine[m]
        out[m] += share * (light * open_light + thread[m])


@njit(cache=True, nogil=True)
def thread_looks(
    pixel: NDArray[np.int64],
    share: NDArray[np.float32],
    part: NDArray[np.int16],
    uv: NDArray[np.float32],
    count: NDArray[np.int8],
    thread: NDArray[np.float32],
    seen_share: NDArray[np.float32],
    pressed: NDArray[np.float32],
    covered: NDArray[np.float32],
    window: NDArray[np.float64],
    out: NDArray[np.float32],
) -> None:
    """The design alone, on `out (rows, cols, 5)`: thread's light is added to the first three; what is
    seen of the cloth's light, and of the cloth, is taken from the others, which start at 1."""
    cols = out.shape[1]
    sums = np.empty(6, np.float32)
    for g in range(len(pixel)):
        if part[g] < 0:
            continue
        row, col = pixel[g] // cols, pixel[g] % cols
        _thread_over(uv[g], count[g], thread, seen_share, pressed, covered, window, sums)
        for j in range(3):
            out[row, col, j] += share[g] * sums[3 + j]
        out[row, col, 3] -= share[g] * (1.0 - sums[0] * sums[1])
        out[row, col, 4] -= share[g] * sums[2]


@njit(cache=True, nogil=True)
def _thread_over(
    uv: NDArray[np.float32],
    count: int,
    thread: NDArray[np.float32],
    seen_share: NDArray[np.float32],
    pressed: NDArray[np.float32],
    covered: NDArray[np.float32],
    window: NDArray[np.float64],
    sums: NDArray[np.float32],
) -> None:
    """Share of cloth seen, what pressing does to it, the share that is thread, and thread's light in every
    set, mean over the samples."""
    rows, cols = seen_share.shape
    sums[:] = 0.0
    for s in range(count):
        x = (uv[s, 0] - window[0]) * window[2] + cols * 0.5 - 0.5
        y = (uv[s, 1] - window[1]) * window[2] + rows * 0.5 - 0.5
        c, r = int(np.floor(x)), int(np.floor(y))
        if c < 0 or r < 0 or c >= cols - 1 or r >= rows - 1:
            sums[0] += 1.0
            sums[1] += 1.0
            continue
        a, b = x - c, y - r
        for j in range(2):
            for k in range(2):
                w = np.float32((a if k else 1.0 - a) * (b if j else 1.0 - b))
                sums[0] += w * seen_share[r + j, c + k]
                sums[1] += w * pressed[r + j, c + k]
                sums[2] += w * covered[r + j, c + k]
                own = thread[r + j, c + k]
                for m in range(len(own)):
                    sums[3 + m] += w * own[m]
    for j in range(len(sums)):
        sums[j] /= np.float32(count)
