"""Spinning yarns out of fibres: helices about the centre line, kept where they lie on top."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from render.compiled import njit
from render.draw.grain import lattice_unit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.draw.cloth.yarns import Yarn

    Plane = NDArray[np.floating[Any]]

FIELDS = 8  # of a surface sample: tangent x y z, normal x y z, brightness, undyed share
CORE = 0.80  # of the yarn's radius is filled before its fibres are laid (reference recipe: estimate)


@dataclass(frozen=True, slots=True, eq=False)
class Surface:
    """What lies on top in each pixel: `height_mm (R, C)` and `fields (R, C, 8)`.

    The fields are tangent xyz, normal xyz, brightness and undyed share.
    """

    height_mm: Plane
    fields: Plane


def bare_surface(rows: int, cols: int, background_mm: float, brightness: float) -> Surface:
    """A level ground between the yarns."""
    fields = np.zeros((rows, cols, FIELDS), np.float32)
    fields[..., 0] = 1.0
    fields[..., 5] = 1.0
    fields[..., 6] = brightness
    return Surface(np.full((rows, cols), background_mm, np.float32), fields)


def spin(surface: Surface, yarns: tuple[Yarn, ...], size_mm: tuple[float, float], seed: int) -> None:
    """Lay every yarn into the surface: its core, then its fibres."""
    rows, cols = surface.height_mm.shape
    per_mm = np.array([cols / size_mm[0], rows / size_mm[1]])
    for index, yarn in enumerate(yarns):
        spec = yarn.spec
        numbers = np.array(
            [
                spec["flat"],
                spec["twist_pitch_mm"],
                spec["spread"],
                spec["migration"],
                spec["contrast"],
                spec.get("undyed", 0.0),
                spec.get("faded_fibres", 0.0),
                spec.get("worn_crowns", 0.0),
                spec.get("tangle", 0.0),
                spec.get("heather", 0.0),
            ]
        )
        path = np.column_stack([yarn.xyz_mm, yarn.across, yarn.radius_mm, yarn.wide, yarn.tone])
        lay_core(surface.height_mm, surface.fields, path, per_mm, numbers)
        lay_fibres(
            surface.height_mm,
            surface.fields,
            path,
            per_mm,
            numbers,
            int(spec["fibres"]),
            seed * 7919 + index * 131,
        )


@njit(cache=True, nogil=True, inline="always")
def _wrap(value: float, n: int) -> int:
    return int(np.floor(value)) % n


@njit(cache=True, nogil=True)
def lay_core(height: Plane, fields: Plane, path: Plane, per_mm: Plane, numbers: Plane) -> None:
    """The yarn's smooth inside, as half an ellipse across every sample of `path`."""
    rows, cols = height.shape
    n = path.shape[0]
    flat, undyed = numbers[0], numbers[5]
    for i in range(n):
        x0, y0, z0 = path[i - 1, 0], path[i - 1, 1], path[i - 1, 2]
        j = i + 1 if i + 1 < n else i
        if i == 0:
            x0, y0, z0 = path[i, 0], path[i, 1], path[i, 2]
        tx, ty, tz = path[j, 0] - x0, path[j, 1] - y0, path[j, 2] - z0
        length = np.sqrt(tx * tx + ty * ty + tz * tz)
        tx, ty, tz = tx / length, ty / length, tz / length
        ax, ay, az = path[i, 3], path[i, 4], path[i, 5]
        ux, uy, uz = cross(tx, ty, tz, ax, ay, az)
        a = CORE * path[i, 6] * path[i, 7]
        b = CORE * path[i, 6] * flat
        steps = int(np.ceil(2 * a * per_mm[0] / 0.6)) + 1
        for k in range(steps + 1):
            v = -1.0 + 2.0 * k / steps
            w = np.sqrt(max(1.0 - v * v, 0.0))
            x = path[i, 0] + a * v * ax + b * w * ux
            y = path[i, 1] + a * v * ay + b * w * uy
            z = path[i, 2] + a * v * az + b * w * uz
            c = _wrap(x * per_mm[0], cols)
            r = _wrap(y * per_mm[1], rows)
            if z > height[r, c]:
                height[r, c] = z
                nx, ny, nz = v / a * ax + w / b * ux, v / a * ay + w / b * uy, v / a * az + w / b * uz
                m = np.sqrt(nx * nx + ny * ny + nz * nz)
                fields[r, c, 0], fields[r, c, 1], fields[r, c, 2] = tx, ty, tz
                fields[r, c, 3], fields[r, c, 4], fields[r, c, 5] = nx / m, ny / m, nz / m
                fields[r, c, 6], fields[r, c, 7] = 0.9 * path[i, 8], undyed


@njit(cache=True, nogil=True)
def lay_fibres(
    height: Plane, fields: Plane, path: Plane, per_mm: Plane, numbers: Plane, fibres: int, word: int
) -> None:
    """Helical fibres that migrate in and out and gather in clumps, as staple fibres do.

    Turns and waves are whole numbers round the closed yarn, so that nothing breaks where
    it meets itself. `numbers`: flatness, pitch, spread, migration, contrast, undyed share,
    faded fibres, worn crowns, tangle, heather. `path (N, 9)`: place, across, radius, width, lightness.
    """
    dx, dy, dz = path[1, 0] - path[0, 0], path[1, 1] - path[0, 1], path[1, 2] - path[0, 2]
    step = np.sqrt(dx * dx + dy * dy + dz * dz)
    length = path.shape[0] * step
    pitch, spread, contrast, undyed, faded = numbers[1], numbers[2], numbers[4], numbers[5], numbers[6]
    tau = 2.0 * np.pi
    # Clumps drift round the yarn: whole waves of about 0.8, 0.5 and 1.5 mm.
    k1 = tau * np.rint(length / (0.5 + 0.6 * lattice_unit(1, 0, word))) / length
    k2 = tau * np.rint(length / (0.3 + 0.4 * lattice_unit(2, 0, word))) / length
    k3 = tau * np.rint(length / (1.0 + 1.0 * lattice_unit(3, 0, word))) / length
    for f in range(fibres):
        start = tau * (f + lattice_unit(f, 1, word)) / fibres
        turns = np.rint(length / pitch * (0.85 + 0.30 * lattice_unit(f, 2, word)))
        r0 = 1.0 - spread * lattice_unit(f, 3, word) ** 1.5
        light = 1.0 + contrast * (2.0 * lattice_unit(f, 4, word) - 1.0)
        pale = undyed
        if lattice_unit(f, 5, word) < faded:
            pale = max(pale, 0.10 + 0.30 * lattice_unit(f, 6, word))
        m1 = tau * np.rint(length / (0.9 + 1.2 * lattice_unit(f, 7, word))) / length
        m2 = tau * np.rint(length / (0.35 + 0.5 * lattice_unit(f, 8, word))) / length
        p1, p2 = tau * lattice_unit(f, 9, word), tau * lattice_unit(f, 10, word)
        way = (start, tau * turns / length, r0, m1, m2, p1, p2)
        look = (light, pale, lattice_unit(f, 11, word), lattice_unit(f, 12, word))
        lay_fibre(height, fields, path, per_mm, numbers, step, (k1, k2, k3), way, look)


@njit(cache=True, nogil=True)
def lay_fibre(
    height: Plane,
    fields: Plane,
    path: Plane,
    per_mm: Plane,
    numbers: Plane,
    step: float,
    clumps: tuple[float, float, float],
    way: tuple[float, float, float, float, float, float, float],
    look: tuple[float, float, float, float],
) -> None:
    """One fibre of a yarn whose samples are `step` mm apart. `clumps` are the waves in which fibres gather,
    `way` the angle it starts from, its turn a mm, its radius, and the waves, with their phases, in which it
    migrates; `look` its lightness, undyed share, and by chance how it wears and of which kind it is.
    """
    rows, cols = height.shape
    n = path.shape[0]
    flat, migration, worn, tangle, heather = numbers[0], numbers[3], numbers[7], numbers[8], numbers[9]
    start, rate, r0, m1, m2, p1, p2 = way
    light, pale, wears, kind = look
    for i in range(n):
        s = i * step
        angle = start + rate * s + tangle * np.sin(m2 * s + p1)
        sine = np.sin(angle)
        if sine < -0.4:
            continue
        cosine = np.cos(angle)
        wave = 0.5 * np.sin(m1 * s + p1) + 0.3 * np.sin(m2 * s + p2) + 0.45 * gathered(s, start, clumps)
        r = path[i, 6] * r0 * (1.0 + migration * wave)
        j = i + 1 if i + 1 < n else i
        q = j - 1
        tx, ty, tz = unit(path[j, 0] - path[q, 0], path[j, 1] - path[q, 1], path[j, 2] - path[q, 2])
        ax, ay, az = path[i, 3], path[i, 4], path[i, 5]
        ux, uy, uz = cross(tx, ty, tz, ax, ay, az)
        a, b = r * path[i, 7], r * flat
        z = path[i, 2] + a * cosine * az + b * sine * uz
        c = _wrap((path[i, 0] + a * cosine * ax + b * sine * ux) * per_mm[0], cols)
        row = _wrap((path[i, 1] + a * cosine * ay + b * sine * uy) * per_mm[1], rows)
        if z <= height[row, c]:
            continue
        height[row, c] = z
        field = fields[row, c]
        field[0], field[1], field[2] = unit(
            tx + rate * (-a * sine * ax + b * cosine * ux),
            ty + rate * (-a * sine * ay + b * cosine * uy),
            tz + rate * (-a * sine * az + b * cosine * uz),
        )
        field[3], field[4], field[5] = unit(
            cosine / a * ax + sine / b * ux, cosine / a * ay + sine / b * uy, cosine / a * az + sine / b * uz
        )
        crown = min(max(path[i, 2], 0.0) / path[i, 6], 1.0)
        field[6] = light * path[i, 8] * (1.0 + worn * crown)
        # In a heather, fibres of both kinds begin and end all along the yarn.
        if kind < heather * (1.0 + 0.8 * np.sin(m1 * s + p2)):
            field[7] = 1.0
            continue
        field[7] = min(pale + worn * crown * wears, 1.0)


@njit(cache=True, nogil=True, inline="always")
def gathered(s: float, start: float, clumps: tuple[float, float, float]) -> float:
    """How far out the clump stands, `s` mm along, in which a fibre runs that starts from such an angle."""
    one, two, three = clumps
    wave = np.sin(3 * start + one * s) + 0.8 * np.sin(5 * start - two * s)
    return float(wave + 0.7 * np.sin(2 * start + three * s))


@njit(cache=True, nogil=True, inline="always")
def cross(tx: float, ty: float, tz: float, ax: float, ay: float, az: float) -> tuple[float, float, float]:
    """The vector product."""
    return ty * az - tz * ay, tz * ax - tx * az, tx * ay - ty * ax


@njit(cache=True, nogil=True, inline="always")
def unit(x: float, y: float, z: float) -> tuple[float, float, float]:
    """The direction of a vector."""
    m = np.sqrt(x * x + y * y + z * z)
    return x / m, y / m, z / m


@njit(cache=True, nogil=True)
def lay_hairs(layer: Plane, starts: Plane, shape: Plane, per_mm: Plane) -> None:
    """Stray hairs, drawn soft into `layer (R, C, 4)`: cover, tangent x, y, z times cover.

    `starts (H, 2)` mm, `shape (H, 4)`: direction rad, length mm, bend rad/mm, opacity.
    """
    rows, cols = layer.shape[0], layer.shape[1]
    for h in range(starts.shape[0]):
        x, y, angle = starts[h, 0], starts[h, 1], shape[h, 0]
        step = 0.6 / per_mm[0]
        n = int(shape[h, 1] / step)
        for i in range(n):
            tx, ty = np.cos(angle), np.sin(angle)
            x += tx * step
            y += ty * step
            angle += shape[h, 2] * step * (1.0 + np.sin(7.0 * shape[h, 0] + 5.0 * i * step))
            fade = min(1.0, 4.0 * i / n, 4.0 * (n - i) / n)
            px, py = x * per_mm[0] - 0.5, y * per_mm[1] - 0.5
            c0, r0 = int(np.floor(px)), int(np.floor(py))
            u, v = px - c0, py - r0
            tz = 0.5 * np.sin(np.pi * (i + 0.5) / n + 0.5 * np.pi)
            m = np.sqrt(1.0 + tz * tz)
            for k in range(4):
                dc, dr = k & 1, k >> 1
                share = (u if dc else 1.0 - u) * (v if dr else 1.0 - v) * 0.6 * fade * shape[h, 3]
                r, c = (r0 + dr) % rows, (c0 + dc) % cols
                keep = 1.0 - share
                layer[r, c, 0] = layer[r, c, 0] * keep + share
                layer[r, c, 1] = layer[r, c, 1] * keep + share * tx / m
                layer[r, c, 2] = layer[r, c, 2] * keep + share * ty / m
                layer[r, c, 3] = layer[r, c, 3] * keep + share * tz / m
