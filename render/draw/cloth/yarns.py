"""Yarns as curved centre lines: woven and knitted structures on a torus of whole repeats.

Everything is mm: x along the weft or course, y along the warp or wale (down), z towards
the viewer. Centre lines are sampled at even steps of arc and close on themselves across
the edges of the tile.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.floating[Any]]


@dataclass(frozen=True, slots=True, eq=False)
class Yarn:
    """One closed yarn: `xyz_mm (N, 3)`, `radius_mm (N,)`, `wide (N,)` = half-width over radius.

    `tone (N,)` is its own lightness; `across (N, 3)` are the unit vectors across the yarn in which
    it is wide; `spec` holds the yarn's table from the fabric file.
    """

    xyz_mm: Floats
    across: Floats
    radius_mm: Floats
    wide: Floats
    tone: Floats
    spec: dict[str, Any]


@dataclass(frozen=True, slots=True, eq=False)
class Cloth:
    """Yarns of one tile of `size_mm`, and how many whole repeats it holds each way."""

    yarns: tuple[Yarn, ...]
    size_mm: tuple[float, float]
    repeats: tuple[int, int]


def weave(structure: dict[str, Any], target_mm: float, step_mm: float, rng: np.random.Generator) -> Cloth:
    """Warp and weft after the weave matrix; a tile of whole repeats near `target_mm`.

    A row of `raised` is a weft, a column a warp, "1" where the warp lies on top.
    """
    warp, weft = structure["warp"], structure["weft"]
    up = np.array([[cell == "1" for cell in row] for row in structure["raised"]])
    rows, cols = up.shape
    cell = cols * warp["spacing_mm"], rows * weft["spacing_mm"]
    repeats = max(1, round(target_mm / cell[0])), max(1, round(target_mm / cell[1]))
    size = repeats[0] * cell[0], repeats[1] * cell[1]
    up = np.tile(up, (repeats[1], repeats[0]))
    yarns = [_woven(warp, up[:, i], i, size[1], step_mm, rng, upright=True) for i in range(up.shape[1])] + [
        _woven(weft, ~up[j], j, size[0], step_mm, rng, upright=False) for j in range(up.shape[0])
    ]
    return Cloth(tuple(yarns), size, repeats)


def _woven(
    spec: dict[str, Any],
    on_top: NDArray[np.bool_],
    index: int,
    length_mm: float,
    step_mm: float,
    rng: np.random.Generator,
    *,
    upright: bool,
) -> Yarn:
    """A warp (`upright`) or weft that dives under and over its crossings."""
    spacing, crimp = spec["spacing_mm"], spec["crimp_mm"]
    n = max(16, round(length_mm / (step_mm * 0.8)))
    s = np.arange(n) * (length_mm / n)
    at = s / length_mm * len(on_top) - 0.5
    here = np.floor(at).astype(int)
    part = at - here
    level = np.where(on_top, 1.0, -1.0)
    a, b = level[here % len(level)], level[(here + 1) % len(level)]
    height = a + (b - a) * (0.5 - 0.5 * np.cos(np.pi * part))
    # A float bulges a little towards its middle; it is never quite level.
    rise = _periodic(height, n, 0.35 * len(on_top))
    z = (
        -spec.get("sunk_mm", 0.0)
        + crimp * (0.8 * height + 0.2 * rise)
        + crimp * 0.18 * _wave(n, length_mm, 2.0, rng)
    )
    side = (index + 0.5) * spacing + spec["wander"] * spacing * (
        0.6 * _wave(n, length_mm, 5.0, rng) + 0.5 * _wave(n, length_mm, 1.4, rng)
    )
    xyz = np.column_stack([side, s, z] if upright else [s, side, z])
    radius, tone = _radius(spec, n, length_mm, rng), _tone(spec, n, length_mm, rng)
    wide = 1.0 + spec.get("widening", 0.16) * np.clip(height, -0.4, 1.0)
    return _resampled(
        xyz, length_mm, step_mm, np.column_stack([radius, wide, tone]), spec, closes_along=1 if upright else 0
    )


def knit(structure: dict[str, Any], target_mm: float, step_mm: float, rng: np.random.Generator) -> Cloth:
    """Courses of loops: x = w t/2pi + A w sin 2t, y = B c cos t, z = -zc cos 2t.

    The sign of z puts the loops' legs (face) or arcs (back) in front; piqué tucks its loops
    in a brick pattern, ribs turn wales over in groups.
    """
    spec = structure["yarn"]
    w, c = structure["wale_mm"], structure["course_mm"]
    tuck, rib = structure.get("tuck"), structure.get("rib")
    across = 2 if tuck else (rib["face_wales"] + rib["back_wales"] if rib else 1)
    down = 4 if tuck else 1
    repeats = max(1, round(target_mm / (across * w))), max(1, round(target_mm / (down * c)))
    wales, courses = repeats[0] * across, repeats[1] * down
    size = wales * w, courses * c
    cells = _pits(rng, courses // 2, wales) if tuck else np.empty(0)
    yarns = []
    for j in range(courses):
        n = wales * max(40, round(3.2 * (w + 2 * c) / step_mm))
        t = np.arange(n) * (2 * np.pi * wales / n)
        jitter = structure["jitter"]
        amp = 1 + jitter * _per_loop(t, wales, rng)
        x = w * t / (2 * np.pi) + structure["lean"] * w * np.sin(2 * t) * (
            1 + jitter * _per_loop(t, wales, rng)
        )
        x += jitter * 0.5 * w * _per_loop(t, wales, rng)
        y = (
            (j + 0.5) * c
            + structure["reach"] * c * np.cos(t) * amp
            + jitter * 0.5 * c * _per_loop(t, wales, rng)
        )
        z = -structure["depth_mm"] * np.cos(2 * t) * (1 + 2 * jitter * _per_loop(t, wales, rng))
        if tuck:
            x, y, z = _tucked(structure, j, t, x, y, z, _per_loop(t, wales, rng))
            z = _celled(structure, x, y, z, cells)
        if rib:
            x, z = _ribbed(structure, x, z)
        radius, tone = _radius(spec, n, size[0], rng), _tone(spec, n, size[0], rng)
        look = np.column_stack([radius, np.ones(n), tone])
        yarns.append(_resampled(np.column_stack([x, y, z]), size[0], step_mm, look, spec, closes_along=0))
    return Cloth(tuple(yarns), size, repeats)


def _tucked(
    structure: dict[str, Any], j: int, t: Floats, x: Floats, y: Floats, z: Floats, chance: Floats
) -> tuple[Floats, Floats, Floats]:
    """Piqué, seen from its technical back: every other wale tucks for two courses, then those between do.

    A tuck loop is an open arch that rises to where the wale knits again, in front of the loop that was held
    for as long, which is drawn out behind it. By `chance`, in [-1, 1], one does so more than another.
    """
    w, c, tuck = structure["wale_mm"], structure["course_mm"], structure["tuck"]
    second = j % 2
    rise = tuck["rise_again"] if second else tuck["rise"]
    sign = 1.0 if (j // 2) % 2 == 0 else -1.0
    tucks = (0.5 + 0.5 * sign * np.sin(np.pi * x / w)) * (1.0 + tuck["uneven"] * chance)
    head = 0.5 - 0.5 * np.cos(t)
    x = x - tuck["open"] * w * tucks * np.sin(2 * t)
    x = x + tuck["pull"] * w * sign * np.cos(np.pi * x / w)
    y = y - c * head * (tucks * rise + (1.0 - tucks) * tuck["held"] * second)
    z = -z + tuck["bulge_mm"] * tucks * head - tuck["deep_mm"] * (1.0 - tucks) * head * second
    return x, y, z


def _pits(rng: np.random.Generator, rows: int, cols: int) -> Floats:
    """What chance, in [-1, 1], makes of cells (5, rows, cols): how far each lies to the side and down, how
    deep, how wide and how high it is. A course knitted tight has shallow pits all along."""
    chance = rng.uniform(-1.0, 1.0, (5, rows, cols))
    chance[2] = 0.75 * chance[2] + 0.25 * rng.uniform(-1.0, 1.0, (rows, 1))
    return chance


def _celled(structure: dict[str, Any], x: Floats, y: Floats, z: Floats, chance: Floats) -> Floats:
    """Piqué's honeycomb: between tuck loops, which are drawn together, the cloth at height `z` sinks into
    soft pits, brick by brick, and may rise between them. By `chance`, see `_pits`, one pit is deeper than
    another, and lies aside."""
    w, high, tuck = structure["wale_mm"], 2.0 * structure["course_mm"], structure["tuck"]
    right, down = x / w - tuck["cell_x"], y / high - tuck["cell_y"]
    col, row = np.rint(right).astype(int), np.rint(down).astype(int)
    own = chance[:, row % chance.shape[1], col % chance.shape[2]] * tuck["pits_uneven"]
    right, down = right - col - 0.16 * own[0], down - row - 0.16 * own[1]
    wide, tall = (
        np.maximum(np.cos(np.pi * off), 0.0) ** (1.0 - 0.7 * by)
        for off, by in ((right, own[3]), (down, own[4]))
    )
    bowl = wide * tall
    bowl = bowl * bowl * (3.0 - 2.0 * bowl)
    depth = np.where((col + row) % 2 == 0, tuck["pit_mm"] * (1.0 + own[2]), -tuck.get("rim_mm", 0.0))
    return np.asarray(z - depth * bowl)


def _ribbed(structure: dict[str, Any], x: Floats, z: Floats) -> tuple[Floats, Floats]:
    """Groups of wales seen from the face, then sunk groups seen from the back and drawn together."""
    rib, w = structure["rib"], structure["wale_mm"]
    count = rib["face_wales"] + rib["back_wales"]
    period = count * w
    angle = 2 * np.pi * (x / period - rib["face_wales"] / count / 2)
    wave = np.cos(angle)
    face = np.tanh(5.0 * wave)
    drawn = x + rib["gather"] * period / (2 * np.pi) * np.sin(angle)
    return drawn, z * face + rib["relief_mm"] * (0.75 * wave + 0.25 * face)


def _radius(spec: dict[str, Any], n: int, length_mm: float, rng: np.random.Generator) -> Floats:
    """Radius along the yarn in mm: its own size, and slubs."""
    own = 1.0 + spec["between"] * rng.uniform(-1.0, 1.0)
    slub = 0.5 * _wave(n, length_mm, 6.0, rng) + 0.5 * _wave(n, length_mm, 1.6, rng)
    return np.asarray(spec["radius_mm"] * own * (1.0 + spec["slub"] * slub))


def _tone(spec: dict[str, Any], n: int, length_mm: float, rng: np.random.Generator) -> Floats:
    """Lightness along the yarn: its own, and dye that took unevenly."""
    own = 1.0 + 0.6 * spec["between"] * rng.uniform(-1.0, 1.0)
    dye = 0.6 * _wave(n, length_mm, 5.0, rng) + 0.4 * _wave(n, length_mm, 1.3, rng)
    return np.asarray(own * (1.0 + spec.get("uneven", 0.04) * dye))


def _wave(n: int, length_mm: float, wavelength_mm: float, rng: np.random.Generator) -> Floats:
    """Smooth periodic noise of about unit peak, by three neighbouring harmonics."""
    base = max(1, round(length_mm / wavelength_mm))
    s = np.arange(n) * (2 * np.pi / n)
    out = np.zeros(n)
    for k in (base, base + 1, max(1, base - 1), 2 * base + 1):
        out += rng.uniform(0.3, 0.6) * np.sin(k * s + rng.uniform(0, 2 * np.pi))
    return out / 1.2


def _per_loop(t: Floats, wales: int, rng: np.random.Generator) -> Floats:
    """One number in [-1, 1] a half loop, cosine-interpolated, periodic."""
    value = rng.uniform(-1.0, 1.0, 2 * wales)
    at = t / np.pi
    k = np.floor(at).astype(int)
    u = 0.5 - 0.5 * np.cos(np.pi * (at - k))
    return np.asarray(value[k % len(value)] * (1 - u) + value[(k + 1) % len(value)] * u)


def _periodic(values: Floats, n: int, cycles: float) -> Floats:
    """Low-pass of a periodic sequence: what varies slower than `cycles` round the tile."""
    spectrum = np.fft.rfft(values)
    spectrum *= np.exp(-((np.arange(len(spectrum)) / max(cycles, 1.0)) ** 2))
    return np.asarray(np.fft.irfft(spectrum, n))


def _resampled(
    xyz: Floats, period_mm: float, step_mm: float, look: Floats, spec: dict[str, Any], *, closes_along: int
) -> Yarn:
    """The closed path at even steps of arc: uneven steps would leave holes.

    `look (N, 3)`: radius, width over radius, lightness.
    """
    shift = np.zeros(3)
    shift[closes_along] = period_mm
    closed = np.vstack([xyz, xyz[:1] + shift])
    arc = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))])
    n = max(8, int(np.ceil(arc[-1] / step_mm)))
    at = np.arange(n) * (arc[-1] / n)
    path = np.column_stack([np.interp(at, arc, closed[:, k]) for k in range(3)])
    radius, wide, tone = (np.interp(at, arc, np.append(part, part[0])) for part in look.T)
    ahead = np.vstack([path[1:], path[:1] + shift])
    behind = np.vstack([path[-1:] - shift, path[:-1]])
    along = ahead - behind
    across = np.column_stack([-along[:, 1], along[:, 0], np.zeros(n)])
    across /= np.maximum(np.linalg.norm(across, axis=1), 1e-9)[:, None]
    return Yarn(path, across, radius, wide, tone, spec)
