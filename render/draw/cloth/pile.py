"""Cloth with a pile: locks of fine fibres (fleece, felt) and loops of yarn (terry)."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from render.compiled import njit
from render.draw.cloth.fibres import Surface
from render.draw.cloth.yarns import Cloth, Yarn, weave
from render.draw.grain import lattice_unit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Plane = NDArray[np.floating[Any]]

LIGHTER, DARKER = 1.6, 0.45  # than others are odd fibres (estimate)
LUMP_MM = 0.3  # how wide lumps of matted fibres are (by eye)


def grow_pile(
    pile: dict[str, Any], ground: Surface, size_mm: tuple[float, float], rng: np.random.Generator
) -> tuple[Surface, NDArray[np.int16]]:
    """Fibres in locks over a closed ground, drawn from deep to top, each translucent.

    Returns the surface with its height raised and the light moments (R, C, 7) by 8192: what the
    fibres give back per unit of light that falls along no fibre.
    """
    rows, cols = ground.height_mm.shape
    per_mm = np.array([cols / size_mm[0], rows / size_mm[1]])
    locks = round(pile["locks_per_mm2"] * size_mm[0] * size_mm[1])
    deep = np.sort(rng.uniform(0, 1, locks))
    starts = rng.uniform(0, 1, (locks, 2)) * size_mm
    # Tufts: neighbouring locks lean alike and stand alike high.
    lean, lift = _flow(starts, size_mm, pile["tuft_mm"], rng)
    lift = lift * pile["tufts"]
    direction = np.where(
        rng.uniform(0, 1, locks) < pile["random"],
        rng.uniform(0, 2 * np.pi, locks),
        lean + 0.6 * rng.standard_normal(locks),
    )
    # Most are shorter than the mean, a few much longer.
    length = pile["length_mm"] * rng.uniform(0.5, 1.4, locks)
    if "uneven" in pile:
        length *= np.exp(pile["uneven"] * rng.standard_normal(locks))
    shape = np.column_stack([starts, direction, length, deep, lift])
    moments = np.zeros((rows, cols, 7), np.float32)
    moments[..., 0] = pile["dark"] * 0.5
    height = np.zeros((rows, cols), np.float32)
    numbers = np.array(
        [
            pile["fibres"],
            pile["curl_rad_per_mm"],
            pile["alpha"],
            pile["dark"],
            pile["height_mm"],
            pile["clump_mm"],
            pile.get("odd", 0.0),
        ]
    )
    lay_locks(height, moments, shape, per_mm, numbers, int(rng.integers(1 << 30)))
    height = _smooth(height, 0.10 * per_mm[0])
    if "lumps_mm" in pile:
        height += np.float32(pile["lumps_mm"]) * _lumps(height.shape, LUMP_MM * per_mm[0], rng)
    surface = Surface(height, ground.fields)
    return surface, np.rint(np.clip(moments, -3.9, 3.9) * 8192).astype(np.int16)


def _flow(
    at: NDArray[np.float64], size_mm: tuple[float, float], scale_mm: float, rng: np.random.Generator
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Two smooth periodic fields at the points: a direction, and a level in [-1, 1]."""

    def field() -> NDArray[np.float64]:
        total = np.zeros(len(at))
        for _ in range(14):
            wave = rng.normal(0, 1, 2) * np.array(size_mm) / scale_mm * 0.5
            k = 2 * np.pi * np.rint(wave) / np.array(size_mm)
            total += np.sin(at @ k + rng.uniform(0, 2 * np.pi))
        return np.asarray(total / np.sqrt(7.0))

    return np.arctan2(field(), field() + 0.5), np.clip(0.6 * field(), -1, 1)


def _lumps(shape: tuple[int, ...], width_px: float, rng: np.random.Generator) -> Plane:
    """Relief of matted fibres, its deviation 1: lumps so wide, and lower ones less than half as wide."""
    noise = rng.standard_normal((2, *shape)).astype(np.float32)
    large, small = _smooth(noise[0], width_px / 2), _smooth(noise[1], width_px / 5)
    both = large / large.std() + 0.4 * small / small.std()
    return np.asarray(both / both.std(), np.float32)


def _smooth(plane: Plane, sigma_px: float) -> Plane:
    from scipy.ndimage import gaussian_filter

    return np.asarray(gaussian_filter(plane, sigma_px, mode="wrap"), np.float32)


@njit(cache=True, nogil=True)
def lay_locks(height: Plane, moments: Plane, locks: Plane, per_mm: Plane, numbers: Plane, word: int) -> None:
    """Draw locks in order. `locks (L, 6)`: x, y mm, direction rad, length mm, depth, lift.

    `numbers`: fibres a lock, curl rad/mm, alpha, dark, pile height mm, width of a lock mm, share of
    fibres that are much lighter and of those that are much darker.
    """
    fibres, curl, alpha, dark = int(numbers[0]), numbers[1], numbers[2], numbers[3]
    tall, clump, odd = numbers[4], numbers[5], numbers[6]
    step = 0.6 / per_mm[0]
    for lock in range(locks.shape[0]):
        depth, lift = locks[lock, 4], locks[lock, 5]
        for f in range(fibres):
            h0 = lattice_unit(lock, 4 * f, word)
            h1 = lattice_unit(lock, 4 * f + 1, word)
            h2 = lattice_unit(lock, 4 * f + 2, word)
            h3 = lattice_unit(lock, 4 * f + 3, word)
            x = locks[lock, 0] + clump * (h0 - 0.5)
            y = locks[lock, 1] + clump * (h1 - 0.5)
            angle = locks[lock, 2] + 0.9 * (h2 - 0.5)
            bend = curl * (h3 - 0.35)
            length = locks[lock, 3] * (0.7 + 0.5 * h2)
            n = int(length / step) + 1
            tone = (0.60 + 0.80 * h1) * (1.0 + 0.12 * lift)
            kind = lattice_unit(lock, f, word + 1)
            tone *= LIGHTER if kind < odd else DARKER if kind > 1.0 - odd else 1.0
            for i in range(n):
                s = (i + 0.5) / n
                along = i * step
                angle += bend * step * (1.0 + 0.8 * np.sin(9.0 * h0 + 4.0 * along))
                # Up from the ground, over an arch, down again at the tip.
                arch = np.sin(np.pi * (0.12 + 0.80 * s))
                slope = np.cos(np.pi * (0.12 + 0.80 * s)) * 0.9
                m = np.sqrt(1.0 + slope * slope)
                tx, ty, tz = np.cos(angle) / m, np.sin(angle) / m, slope / m
                x += np.cos(angle) * step / m
                y += np.sin(angle) * step / m
                top = 0.52 * depth + 0.26 * arch + 0.16
                level = min(max(top + 0.26 * lift, 0.0), 1.0)
                light = (dark + (1.0 - dark) * level**0.8) * (0.62 + 0.38 * arch) * tone
                soft = alpha * min(1.0, 5.0 * s, 4.0 * (1.0 - s))
                place = x * per_mm[0] - 0.5, y * per_mm[1] - 0.5
                lay_over(height, moments, place, soft, light, (tx, ty, tz), tall * level)


@njit(cache=True, nogil=True, inline="always")
def lay_over(
    height: Plane,
    moments: Plane,
    place: tuple[float, float],
    alpha: float,
    light: float,
    along: tuple[float, float, float],
    high_mm: float,
) -> None:
    """A point of a fibre that runs `along`, over what lies at the four pixels around its `place`."""
    rows, cols = height.shape
    c0, r0 = int(np.floor(place[0])), int(np.floor(place[1]))
    u, v = place[0] - c0, place[1] - r0
    tx, ty, tz = along
    for k in range(4):
        dc, dr = k & 1, k >> 1
        share = alpha * (u if dc else 1.0 - u) * (v if dr else 1.0 - v)
        if share < 0.02:
            continue
        r, c = (r0 + dr) % rows, (c0 + dc) % cols
        keep = 1.0 - share
        give = share * light
        moments[r, c, 0] = moments[r, c, 0] * keep + give
        moments[r, c, 1] = moments[r, c, 1] * keep + give * tx * tx
        moments[r, c, 2] = moments[r, c, 2] * keep + give * ty * ty
        moments[r, c, 3] = moments[r, c, 3] * keep + give * tz * tz
        moments[r, c, 4] = moments[r, c, 4] * keep + give * tx * ty
        moments[r, c, 5] = moments[r, c, 5] * keep + give * tx * tz
        moments[r, c, 6] = moments[r, c, 6] * keep + give * ty * tz
        height[r, c] = height[r, c] * keep + share * high_mm


def terry_loops(
    structure: dict[str, Any], target_mm: float, step_mm: float, rng: np.random.Generator
) -> Cloth:
    """Loops of pile yarn standing on, and leaning over, a plain woven ground."""
    ground = weave(structure, target_mm, step_mm, rng)
    spec = structure["loop"]
    size = ground.size_mm
    nx, ny = round(size[0] / spec["spacing_x_mm"]), round(size[1] / spec["spacing_y_mm"])
    sunk = [
        replace(y, xyz_mm=y.xyz_mm - np.array([0, 0, spec["ground_depth_mm"]]), tone=0.75 * y.tone)
        for y in ground.yarns
    ]
    loops = [
        _loop(spec, (i + 0.5) * size[0] / nx, (j + 0.5) * size[1] / ny, step_mm, rng)
        for j in range(ny)
        for i in range(nx)
    ]
    return Cloth((*sunk, *loops), size, ground.repeats)


def _loop(spec: dict[str, Any], x: float, y: float, step_mm: float, rng: np.random.Generator) -> Yarn:
    """One loop: an open arch in a leaning plane, with a sideways curl."""
    x += spec["jitter"] * spec["spacing_x_mm"] * rng.uniform(-1, 1)
    y += spec["jitter"] * spec["spacing_y_mm"] * rng.uniform(-1, 1)
    high = rng.uniform(*spec["height_mm"])
    far = rng.uniform(*spec["length_mm"]) * 0.5
    turn = rng.uniform(0, 2 * np.pi)
    lean = rng.uniform(0.5, 1.0) if rng.uniform() < spec["leaning"] else rng.uniform(0.0, 0.3)
    curl = rng.normal(0, 0.5)
    n = 120
    t = np.linspace(-1.0, 1.0, n)
    open_mm = rng.uniform(0.16, 0.34)
    side = open_mm * np.sin(np.pi * t) * 0.9 + 0.12 * t
    rise = np.cos(0.5 * np.pi * t) ** 0.8
    out = far * lean * rise + 0.12 * np.sin(3 * t + turn)
    bend = turn + curl * rise
    px = x + out * np.cos(bend) - side * np.sin(bend)
    py = y + out * np.sin(bend) + side * np.cos(bend)
    pz = -spec["ground_depth_mm"] + high * rise * (1.0 - 0.35 * lean) * (1.0 - 0.12 * lean * rise)
    path = np.column_stack([px, py, pz])
    arc = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])
    m = max(8, int(arc[-1] / step_mm))
    at = np.arange(m) * (arc[-1] / m)
    path = np.column_stack([np.interp(at, arc, path[:, k]) for k in range(3)])
    along = np.gradient(path, axis=0)
    along /= np.maximum(np.linalg.norm(along, axis=1), 1e-9)[:, None]
    # Across is level, so that the drawn half of the yarn is the upper one; a leg that stands
    # upright takes the way across from the plane of the arch.
    level = np.cross([0.0, 0.0, 1.0], along)
    plane = np.array([-np.sin(turn), np.cos(turn), 0.0])
    across = level + 0.15 * np.where(level @ plane < 0, -1.0, 1.0)[:, None] * plane
    across -= (across * along).sum(axis=1, keepdims=True) * along
    across /= np.maximum(np.linalg.norm(across, axis=1), 1e-9)[:, None]
    radius = spec["radius_mm"] * (1 + spec["between"] * rng.uniform(-1, 1)) * np.ones(m)
    tone = (1 + 0.6 * spec["between"] * rng.uniform(-1, 1)) * np.ones(m)
    return Yarn(path, across, radius, np.ones(m), tone, spec)
