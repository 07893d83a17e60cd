"""Slow, plain twins of lit cloth and the ground under thread."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from naive.grain import lattice, mix32, noise2, smooth, waves2


def inside(outline: NDArray[np.float64], point: NDArray[np.float64]) -> bool:
    """Even-odd rule: how many edges does a ray to the right cross?"""
    crossings = 0
    for k in range(len(outline)):
        (x0, y0), (x1, y1) = outline[k - 1], outline[k]
        if min(y0, y1) <= point[1] < max(y0, y1):
            crossings += bool(x0 + (point[1] - y0) / (y1 - y0) * (x1 - x0) > point[0])
    return crossings % 2 == 1


def film_over(
    light: NDArray[np.float64], x: float, y: float, seed: int, lamp_deg: float, c: Any
) -> NDArray[np.float64]:
    """The cloth's light through a crinkled film at one point, with a lamp at this azimuth."""

    def creased(x: float, y: float) -> tuple[float, float]:
        bend = 0.6 * noise2(0.11 * x, 0.11 * y, seed + 5)
        coarse = np.hypot(noise2(c.COARSE * x + bend, 0.8 * c.COARSE * y - bend, seed + 3), c.BLUNT)
        fine = np.hypot(noise2(c.FINE * x + bend, c.FINE * y, seed + 13), c.BLUNT)
        return coarse, fine

    def height(x: float, y: float) -> float:
        return float(np.dot(creased(x, y), (c.COARSE_MM, c.FINE_MM)))

    slope = np.array([height(x + c.STEP_MM, y), height(x, y + c.STEP_MM)]) - height(x, y)
    # It faces the lamp where it falls towards it.
    facing = -c.MIRROR * np.exp(1j * np.pi * lamp_deg / 180)
    off = slope / c.STEP_MM - (facing.real, facing.imag)
    gloss = c.GLOSS * np.exp(-0.5 * ((off / c.WIDE) ** 2).sum())
    near = np.clip(1 - c.CREASED * np.array(creased(x, y)), 0, None) @ [1.0, 0.6]
    return np.asarray(light * c.CLEAR + c.VEIL + gloss + c.CREASE * min(near, 1.0))


def sky_share(
    height: NDArray[np.float64], taps: NDArray[np.int64], reach: NDArray[np.float64], per_direction: int
) -> NDArray[np.float64]:
    """Per direction the cos² of the steepest horizon; whole planes rolled on the torus."""
    shares = []
    for first in range(0, len(taps), per_direction):
        slopes = [
            (np.roll(height, tuple(-t for t in taps[k]), (0, 1)) - height) / reach[k]
            for k in range(first, first + per_direction)
        ]
        shares.append(np.cos(np.arctan(np.clip(np.max(slopes, axis=0), 0, None))) ** 2)
    return np.asarray(np.mean(shares, axis=0))


def shadow_share(
    height: NDArray[np.float64],
    taps: NDArray[np.int64],
    climb: NDArray[np.float64],
    soft: NDArray[np.float64],
) -> NDArray[np.float64]:
    """The least of the light that each step towards the lamp lets past, on the torus."""
    left = [np.ones_like(height)]
    for tap, ray, blur in zip(taps, climb, soft, strict=True):
        there = np.roll(height, tuple(-t for t in tap), (0, 1))
        left.append(np.clip(0.5 - (there - height - ray) / blur, 0, 1))
    return np.asarray(np.min(left, axis=0))


def _tangents(path: NDArray[np.float64]) -> NDArray[np.float64]:
    """Unit chords to the next sample (the last sample keeps the chord before it)."""
    chords = np.diff(path[:, :3], axis=0)
    chords = np.vstack([chords, chords[-1:]])
    return np.asarray(chords / np.linalg.norm(chords, axis=1)[:, None])


def _keep_highest(
    height: NDArray[np.float64], fields: NDArray[np.float64], per_mm: Any, at: Any, values: Any
) -> None:
    """Put samples on the torus in order, each only where it is higher than what lies there."""
    rows, cols = height.shape
    for (x, y, z), value in zip(at, values, strict=True):
        place = math.floor(y * per_mm[1]) % rows, math.floor(x * per_mm[0]) % cols
        if np.float32(z) > height[place]:
            height[place] = z
            fields[place] = value


def lay_core(height: Any, fields: Any, path: Any, per_mm: Any, numbers: Any, core: float) -> None:
    """Half ellipses across the yarn, all samples at once."""
    flat, undyed = numbers[0], numbers[5]
    ahead = np.vstack([path[1:, :3], path[-1:, :3]])
    behind = np.vstack([path[:1, :3], path[:-1, :3]])
    along = (ahead - behind) / np.linalg.norm(ahead - behind, axis=1)[:, None]
    up = np.cross(along, path[:, 3:6])
    at, values = [], []
    for i, (radius, wide) in enumerate(path[:, 6:8]):
        a, b = core * radius * wide, core * radius * flat
        steps = math.ceil(2 * a * per_mm[0] / 0.6) + 1
        v = np.linspace(-1, 1, steps + 1)[:, None]
        w = np.sqrt(np.clip(1 - v * v, 0, None))
        at.append(path[i, :3] + a * v * path[i, 3:6] + b * w * up[i])
        normal = v / a * path[i, 3:6] + w / b * up[i]
        normal /= np.linalg.norm(normal, axis=1)[:, None]
        rest = np.tile([0.9 * path[i, 8], undyed], (steps + 1, 1))
        values.append(np.hstack([np.tile(along[i], (steps + 1, 1)), normal, rest]))
    _keep_highest(height, fields, per_mm, np.vstack(at), np.vstack(values))


def lay_fibres(
    height: Any, fields: Any, path: Any, per_mm: Any, numbers: Any, fibres: int, word: int
) -> None:
    """Each fibre as one array along the yarn."""
    flat, pitch, spread, migration, contrast, undyed, faded, worn, tangle, heather = numbers
    along = _tangents(path)
    across = path[:, 3:6]
    up = np.cross(along, across)
    n = len(path)
    step = np.linalg.norm(path[1, :3] - path[0, :3])
    length = n * step
    s = np.arange(n) * step

    def wave_number(shortest: float, range_: float, i: int, j: int) -> float:
        return float(2 * np.pi * round(length / (shortest + range_ * lattice(i, j, word))) / length)

    k1, k2, k3 = wave_number(0.5, 0.6, 1, 0), wave_number(0.3, 0.4, 2, 0), wave_number(1.0, 1.0, 3, 0)
    for f in range(fibres):
        h = [lattice(f, j, word) for j in range(13)]
        start = 2 * np.pi * (f + h[1]) / fibres
        rate = 2 * np.pi * round(length / pitch * (0.85 + 0.3 * h[2])) / length
        m1, m2 = wave_number(0.9, 1.2, f, 7), wave_number(0.35, 0.5, f, 8)
        p1, p2 = 2 * np.pi * h[9], 2 * np.pi * h[10]
        angle = start + rate * s + tangle * np.sin(m2 * s + p1)
        clump = np.sin(3 * start + k1 * s) + 0.8 * np.sin(5 * start - k2 * s)
        clump += 0.7 * np.sin(2 * start + k3 * s)
        moves = 0.5 * np.sin(m1 * s + p1) + 0.3 * np.sin(m2 * s + p2) + 0.45 * clump
        radius = path[:, 6] * (1 - spread * h[3] ** 1.5) * (1 + migration * moves)
        a, b = (radius * path[:, 7])[:, None], (radius * flat)[:, None]
        cosine, sine = np.cos(angle)[:, None], np.sin(angle)[:, None]
        at = path[:, :3] + a * cosine * across + b * sine * up
        tangent = along + rate * (-a * sine * across + b * cosine * up)
        tangent /= np.linalg.norm(tangent, axis=1)[:, None]
        normal = cosine / a * across + sine / b * up
        normal /= np.linalg.norm(normal, axis=1)[:, None]
        crown = np.minimum(np.maximum(path[:, 2], 0) / path[:, 6], 1)
        pale = max(undyed, 0.10 + 0.30 * h[6]) if h[5] < faded else undyed
        light = path[:, 8] * (1 + contrast * (2 * h[4] - 1)) * (1 + worn * crown)
        shade = np.minimum(pale + worn * crown * h[11], 1)
        shade[h[12] < heather * (1 + 0.8 * np.sin(m1 * s + p2))] = 1.0
        seen = sine[:, 0] >= -0.4
        values = np.column_stack([tangent, normal, light, shade])
        _keep_highest(height, fields, per_mm, at[seen], values[seen])


def _blend_soft(layer: Any, per_mm: Any, x: float, y: float, share: float, least: float) -> Any:
    """The four pixels round a place on the torus, with their part of the share."""
    rows, cols = layer.shape[:2]
    px, py = x * per_mm[0] - 0.5, y * per_mm[1] - 0.5
    c0, r0 = math.floor(px), math.floor(py)
    for dr, wr in ((0, 1 - (py - r0)), (1, py - r0)):
        for dc, wc in ((0, 1 - (px - c0)), (1, px - c0)):
            if share * wr * wc >= least:
                yield ((r0 + dr) % rows, (c0 + dc) % cols), share * wr * wc


def lay_hairs(layer: Any, starts: Any, shape: Any, per_mm: Any) -> None:
    """Hairs blended over each other, in order."""
    for (x, y), (turn, length, bend, opacity) in zip(starts, shape, strict=True):
        step, angle = 0.6 / per_mm[0], turn
        n = int(length / step)
        for i in range(n):
            x, y = x + math.cos(angle) * step, y + math.sin(angle) * step
            rise = 0.5 * math.sin(math.pi * (i + 0.5) / n + math.pi / 2)
            tangent = np.array([math.cos(angle), math.sin(angle), rise]) / math.hypot(1, rise)
            angle += bend * step * (1 + math.sin(7 * turn + 5 * i * step))
            share = 0.6 * opacity * min(1, 4 * i / n, 4 * (n - i) / n)
            for place, part in _blend_soft(layer, per_mm, x, y, share, 0.0):
                layer[place] = (1 - part) * layer[place] + part * np.array([1, *tangent])


def lay_locks(height: Any, moments: Any, locks: Any, per_mm: Any, numbers: Any, word: int) -> None:
    """Fibres of every lock blended over each other, their moments as an outer product."""
    fibres, curl, alpha, dark, tall, clump, odd = numbers
    step = 0.6 / per_mm[0]
    for lock, (x0, y0, lean, longest, depth, lift) in enumerate(locks):
        for f in range(int(fibres)):
            h, kind = [lattice(lock, 4 * f + k, word) for k in range(4)], lattice(lock, f, word + 1)
            x, y, angle = x0 + clump * (h[0] - 0.5), y0 + clump * (h[1] - 0.5), lean + 0.9 * (h[2] - 0.5)
            n = int(longest * (0.7 + 0.5 * h[2]) / step) + 1
            for i in range(n):
                s = (i + 0.5) / n
                angle += curl * (h[3] - 0.35) * step * (1 + 0.8 * math.sin(9 * h[0] + 4 * i * step))
                arch = math.sin(math.pi * (0.12 + 0.8 * s))
                tangent = np.array(
                    [math.cos(angle), math.sin(angle), 0.9 * math.cos(math.pi * (0.12 + 0.8 * s))]
                )
                tangent /= np.linalg.norm(tangent)
                x, y = x + tangent[0] * step, y + tangent[1] * step
                level = min(max(0.52 * depth + 0.26 * arch + 0.16 + 0.26 * lift, 0), 1)
                light = (dark + (1 - dark) * level**0.8) * (0.62 + 0.38 * arch)
                light *= (0.6 + 0.8 * h[1]) * (1 + 0.12 * lift)
                light *= 1.6 if kind < odd else 0.45 if kind > 1 - odd else 1
                square = np.outer(tangent, tangent)
                give = light * np.array([1, *square[np.diag_indices(3)], *square[np.triu_indices(3, 1)]])
                share = alpha * min(1, 5 * s, 4 * (1 - s))
                for place, part in _blend_soft(height, per_mm, x, y, share, 0.02):
                    moments[place] = (1 - part) * moments[place] + part * give
                    height[place] = (1 - part) * height[place] + part * tall * level


def yarn_light(fields: Any, hair: Any, shadow: float, lamp: Any, numbers: Any) -> tuple[float, float]:
    """Dyed and uncoloured light of one place under one lamp of unit strength."""
    wrap, along, across, sheen_width, sheen, f0, beta1, beta2, second, floor = numbers
    tangent, normal, lightness = np.array(fields[:3]) / 127, np.array(fields[3:6]) / 127, fields[6] / 64
    wrapped = max((normal @ lamp + wrap) / (1 + wrap), 0)
    sine = tangent @ lamp
    half = (sine + tangent[2]) / 2
    visible = floor + (1 - floor) * shadow
    body = across * wrapped + along * math.sqrt(max(1 - sine**2, 0))
    body = (body + 0.35 * sheen * math.exp(-(half**2) / (2 * sheen_width**2)) * wrapped) * visible * lightness
    lobes = math.exp(-(half**2) / (2 * beta1**2)) / beta1
    lobes += second * math.exp(-(half**2) / (2 * beta2**2)) / beta2
    gloss = f0 / 4 * lobes * visible * wrapped
    cover = hair[0] / 127
    if cover > 0:
        dot = np.array(hair[1:]) @ lamp / 127 / cover
        body = (1 - cover) * body + cover * (0.35 + 0.85 * math.sqrt(max(1 - dot**2, 0)) * lamp[2])
        gloss *= 1 - cover
    return body, gloss


def pile_light(moments: Any, slope: Any, shadow: float, lamp: Any, floor: float, facing: float) -> float:
    """Light of pile by its moment matrix."""
    m, xx, yy, zz, xy, xz, yz = np.array(moments) / 8192
    along = lamp @ np.array([[xx, xy, xz], [xy, yy, yz], [xz, yz, zz]]) @ lamp
    tilt = max(1 - facing * float(np.dot(slope, lamp[:2])) / lamp[2], 0.2)
    return float((m - 0.85 * along) * tilt * (floor + (1 - floor) * shadow))


def yarn_tone(index: int, word: int) -> float:
    a, b, c = (lattice(index, j, word) for j in (3, 4, 5))
    return (a + b - 1) * (0.6 + 1.2 * c**4)


def slow_fields(x: float, y: float, slow: Any, drape: Any, mottle: Any, wander: Any, seed: int) -> Any:
    """Gain and wander of the grain at one place."""
    gain = 1.0
    for k, (wave, weight) in enumerate(drape):
        gain += slow[0] * weight * noise2(x / wave + 0.3 * k, y / wave, seed + 101 + k)
    for k, (wave, weight) in enumerate(mottle):
        gain += slow[1] * weight * noise2(x / wave, y / wave + 0.7 * k, seed + 211 + k)
    return np.array([gain, *(slow[2] * waves2(x, y, wander, seed + word) for word in (307, 311))])


def lattice_at(place: Any, axes: Any, back: Any, fields_at: Any) -> NDArray[np.float64]:
    """Of a place of the design whose cloth has moved `back` how far it lay off in u and v, its own wander
    included, and its gain.

    `fields_at(x, y)` gives the slow fields at a whole-millimetre node of the cloth.
    """
    u, v = axes @ (place - back)
    i, j = math.floor(u), math.floor(v)
    corners = [(i + a, j + b, abs(1 - a - u + i) * abs(1 - b - v + j)) for a in (0, 1) for b in (0, 1)]
    gain, *wander = sum(w * fields_at(x, y) for x, y, w in corners)
    return np.array([*(wander - axes @ back), gain])


def cloth_at(piece: Any, place: Any, gain: float) -> NDArray[np.float64]:
    """Radiance and height of a laid piece at one place of the cloth (u, v) in mm, so light by slow fields."""
    for axis, (spacing, amplitude) in enumerate(piece.streaks):
        at = place[axis] / spacing - 0.5
        k, word = math.floor(at), piece.seed + 17 + 12 * axis
        ease = smooth(at - k)
        gain *= 1 + amplitude * (yarn_tone(k, word) * (1 - ease) + yarn_tone(k + 1, word) * ease)
    # Corners of the triangle that the place lies in, by its barycentric coordinates.
    base = np.linalg.solve(piece.cell_mm * np.array([[1, 0.5], [0, math.sqrt(3) / 2]]), place)
    cell = np.floor(base).astype(int)
    a, b = base - cell
    if a + b < 1:
        triangle = [((0, 0), 1 - a - b), ((1, 0), a), ((0, 1), b)]
    else:
        triangle = [((1, 1), a + b - 1), ((1, 0), 1 - b), ((0, 1), 1 - a)]
    most = max(w for _, w in triangle)
    weights = [max(w - most + piece.blend, 0) for _, w in triangle]
    rows, cols, _ = piece.texels.shape
    total = np.zeros(4)
    for (corner, _), weight in zip(triangle, weights, strict=True):
        x, y = (int(t) for t in cell + corner)
        shift = piece.shifts[mix32(x * 0x27D4EB2F + y * 0x165667B1 + piece.seed) % len(piece.shifts)] / 65536
        px, py = place * piece.per_mm - 0.5 + shift
        c0, r0 = math.floor(px), math.floor(py)
        for r, wr in ((r0, 1 - py + r0), (r0 + 1, py - r0)):
            for c, wc in ((c0, 1 - px + c0), (c0 + 1, px - c0)):
                total += weight / sum(weights) * wr * wc * piece.texels[r % rows, c % cols]
    return total * np.array([gain, gain, gain, 1.0])
