"""What shading needs to know of threads and light, the same for every pixel of a picture."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from render.draw.exposure import white_card_linear
from render.draw.filaments import PER_MM, cached_filaments, packed_filaments
from render.draw.flat_satin import dye_albedo, flat_linear
from render.draw.lit_thread import CHANNELS
from render.draw.reach import SHADOW_STEPS
from render.draw.shadow import (
    OCCLUSION_GAIN,
    OCCLUSION_MM,
    SHADOW_FIRST_MM,
    SHADOW_GROWTH,
    SHADOW_SOFT_MM,
)
from render.draw.sheen import SheenTable, lamp_direction, sheen_table
from render.draw.surface import (
    AZIMUTH,
    BEFORE,
    DEEP,
    DOWN,
    FIRST,
    FULL_TURN,
    GLINT,
    HAND,
    LAST,
    MM,
    NUMBERS,
    PER_PX,
    PER_SAMPLE,
    RIGHT,
    ROW,
    SLIM,
    SPARKLE,
    THREAD,
    TONE,
    VALLEY_WIDE,
    WANDER,
    WHOLES,
    WORD,
    mean_glint,
)
from render.draw.thickness import shown_shares
from render.model import Light

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.draw.pixel_strands import PixelStrands
    from render.draw.strands import Strands
    from render.model import FibreLobes, Thread

# Below this many sub-pixels a mm the plies of a thread are lost, so small pictures are
# drawn at it and averaged: their colours and sheen match those of large ones.
LEAST_PX_PER_MM = 20.0
EVEN = Light("even", "", (), (1.0, 1.0, 1.0))  # light from everywhere above


@dataclass(frozen=True, slots=True, eq=False)
class Shading:
    """What the shading kernel needs besides the buffers, the same for every tile."""

    numbers: NDArray[np.float32]
    wholes: NDArray[np.int32]
    dye: NDArray[np.float32]
    tables: NDArray[np.float32]
    kind: NDArray[np.int32]
    shown: NDArray[np.float32]
    key_linear: NDArray[np.float64]
    texture: NDArray[np.int32]
    shadow_taps: NDArray[np.int64]
    shadow_rise: NDArray[np.float64]
    sky_taps: NDArray[np.int64]
    sky_per_mm: NDArray[np.float64]
    key_share: float
    walls: float
    towards_key: NDArray[np.float64]
    supersample: int


def supersampling(px_per_mm: float) -> int:
    """Sub-pixels along each side of a pixel: 2, or a larger even number for small pictures."""
    return 2 * max(1, int(np.ceil(LEAST_PX_PER_MM / px_per_mm / 2)))


def shading_for(
    strands: Strands,
    pixel_strands: PixelStrands,
    threads: tuple[Thread, ...],
    lobes: dict[str, FibreLobes],
    light: Light,
    below_linear: NDArray[np.float64],
    sub: int,
    twist: float,
) -> Shading:
    """The tables of the threads under this light on cloth of colour `below_linear`, and the light's way, at
    the scale of `pixel_strands`."""
    kinds = sorted({t.shines_as for t in threads})
    tables = [sheen_table(lobes[kind], light) for kind in kinds]
    per_mm = pixel_strands.px_per_mm
    taps, rise = np.zeros((0, 2), np.int64), np.zeros((0, 2))
    if light.lamps:
        taps, rise = shadow_taps(_towards_key(light), light.lamps[0].size_deg, per_mm / 2)
    around, sky_per_mm = sky_taps(per_mm / 2)
    packed = [packed_sheen(table).reshape(-1, CHANNELS) for table in tables]
    texture = cached_filaments(per_mm)
    numbers, wholes = strand_numbers(strands, pixel_strands, twist)
    # Besides their own stray, filaments run askew as the twist lays them.
    fibres = [lobes[t.shines_as] for t in threads]
    if len(threads):
        numbers[:, WANDER] += np.array([f.lean_deg for f in fibres], np.float32)[strands.thread]
        numbers[:, DEEP] *= np.array([f.valley for f in fibres], np.float32)[strands.thread]
        sparkle = [f.sparkle for f in fibres]
        means = {one: mean_glint(texture, one) for one in set(sparkle)}
        numbers[:, SPARKLE] = np.array(sparkle, np.float32)[strands.thread]
        numbers[:, GLINT] = np.array([1.0 / means[one] for one in sparkle], np.float32)[strands.thread]
    dye = dyes_of(threads, kinds, tables, lobes, light)
    flat = [flat_linear(one, sheen_table(f, EVEN)) for one, f in zip(dye[:, :3], fibres, strict=True)]
    deep, scatter = np.array(flat).reshape(-1, 3), np.array([f.scatter_per_mm for f in fibres])
    return Shading(
        numbers,
        wholes,
        dye,
        np.concatenate(packed) if packed else np.zeros((0, CHANNELS), np.float32),
        np.array([kinds.index(t.shines_as) for t in threads], np.int32),
        shown_shares(deep, below_linear, scatter),
        key_linear(light),
        packed_filaments(texture),
        taps,
        rise,
        around,
        sky_per_mm,
        _key_share(light),
        _walls(deep, strands.thread),
        _towards_key(light),
        sub,
    )


def strand_numbers(
    strands: Strands, pixel_strands: PixelStrands, twist: float
) -> tuple[NDArray[np.float32], NDArray[np.int32]]:
    """What is looked up of each strand: `numbers` and `wholes`, columns as `surface` names them; without what
    its kind of thread adds."""
    (start, end), run = strands.laid_ends_mm(), strands.end_mm - strands.start_mm
    last = np.diff(pixel_strands.first) - 1
    length = np.maximum(np.hypot(*(end - start).T), 1e-6)
    grain = strands.grain.astype(np.int64)
    numbers = np.zeros((len(run), NUMBERS), np.float32)
    numbers[:, [RIGHT, DOWN]] = pixel_strands.run[:, :2]
    numbers[:, PER_PX] = last / np.maximum(pixel_strands.run[:, 2], 1e-9)
    wide = _valley_wide(strands, pixel_strands.px_per_mm)
    numbers[:, SLIM], numbers[:, DEEP] = 1.0 / wide, VALLEY_WIDE / wide
    numbers[:, LAST] = last * (1.0 - 1e-6)
    numbers[:, PER_SAMPLE] = length / last * PER_MM
    numbers[:, TONE] = 0.05 * ((grain >> 8 & 255) / 255.0 - 0.5)
    numbers[:, WANDER] = 3.0 * ((grain >> 16 & 255) / 255.0 - 0.5)
    numbers[:, HAND] = np.where(twist * strands.twist_per_mm >= 0.0, 1.0, -1.0)
    numbers[:, MM] = length / last
    # Single precision: it only has to differ from stitch to stitch.
    numbers[:, BEFORE] = strands.along_mm % 512.0
    wholes = np.zeros((len(run), WHOLES), np.int32)
    wholes[:, FIRST] = pixel_strands.first[:-1]
    wholes[:, AZIMUTH] = _azimuth(run)
    wholes[:, ROW] = grain >> 20
    wholes[:, THREAD] = strands.thread
    wholes[:, WORD] = grain & 0xFFFF
    return numbers, wholes


def _valley_wide(strands: Strands, px_per_mm: float) -> NDArray[np.float64]:
    """Half the width of the valleys between plies as pixels of two sub-pixels show them: those that are too
    narrow for pixels are as much wider as they are less deep."""
    # On top of a thread half a ply is a quarter turn: so much of its half-width.
    pixel = 2.0 / px_per_mm / (0.5 * np.pi * strands.half_width_mm)
    return np.asarray(np.hypot(VALLEY_WIDE, 0.75 * pixel))


def note_runs(shading: Shading, pixel_strands: PixelStrands, chosen: NDArray[np.int64]) -> None:
    """Tell the shading how chosen strands run now that they have been moved."""
    run, numbers = pixel_strands.run[chosen], shading.numbers
    last = (pixel_strands.first[1:] - pixel_strands.first[:-1] - 1)[chosen]
    numbers[chosen, RIGHT], numbers[chosen, DOWN] = run[:, 0], run[:, 1]
    numbers[chosen, PER_PX] = last / np.maximum(run[:, 2], 1e-9)
    shading.wholes[chosen, AZIMUTH] = _azimuth(run)


def _azimuth(run: NDArray[np.float64]) -> NDArray[np.int64]:
    turn = np.rad2deg(np.arctan2(run[:, 1], run[:, 0])) * (FULL_TURN / 360.0)
    return np.asarray(np.rint(turn).astype(np.int64) % FULL_TURN)


def key_linear(light: Light) -> NDArray[np.float64]:
    """The key lamp's colour, its mean 1."""
    colour = np.array(light.lamps[0].colour_linear if light.lamps else (1.0, 1.0, 1.0)) / white_card_linear(
        light
    )
    return np.asarray(colour / colour.mean())


def packed_sheen(table: SheenTable) -> NDArray[np.float32]:
    """A table's values (72, 31, 13, CHANNELS): of the key lamp only how much, as it is all of one colour."""
    values = table.values
    # Numpy takes its mean over three numbers one table entry at a time.
    by_key = np.stack([sum(values[..., at + k] for k in range(3)) / 3 for at in (0, 6)], -1)
    parts = [by_key, values[..., 3:6], values[..., 9:12], values[..., 12:]]
    empty = CHANNELS - sum(part.shape[-1] for part in parts)
    return np.concatenate([*parts, np.zeros((*values.shape[:-1], empty), np.float32)], -1)


def dyes_of(
    threads: tuple[Thread, ...],
    kinds: list[str],
    tables: list[SheenTable],
    lobes: dict[str, FibreLobes],
    light: Light,
) -> NDArray[np.float32]:
    """Albedo RGB, gloss, flake and fuzz of each thread (T, 6)."""
    from render.colour import to_linear

    rows = []
    for thread in threads:
        target = tuple(float(c) for c in to_linear(np.array(thread.colour_srgb)))
        fibre, table = lobes[thread.shines_as], tables[kinds.index(thread.shines_as)]
        albedo, gloss = dye_albedo(target, table, light, fibre.emission_yield)  # type: ignore[arg-type]
        rows.append([*albedo, gloss, fibre.flake, fibre.fuzz])
    return np.array(rows, np.float32).reshape(-1, 6)


def _walls(deep_linear: NDArray[np.float64], used: NDArray[np.integer[Any]]) -> float:
    """What of their light threads (T, 3) throw back on cloth between them, in the mean over all strands, of
    which `used` are the threads: cloth is not told which of them are nearest."""
    light = np.clip(deep_linear @ (0.2126, 0.7152, 0.0722), 0.0, 1.0)
    return float(light @ np.bincount(used, minlength=len(light))) / max(len(used), 1)


def _key_share(light: Light) -> float:
    """Share of a flat card's light that comes from the key lamp."""
    parts = [p.irradiance * np.sin(np.deg2rad(p.elevation_deg)) / np.pi for p in light.lamps]
    total = sum(parts) + float(np.mean(light.dome_linear))
    return float(parts[0] / total) if parts else 0.0


def _towards_key(light: Light) -> NDArray[np.float64]:
    if not light.lamps:
        return np.array([0.0, 0.0, 1.0])
    return np.array(lamp_direction(light.lamps[0].azimuth_deg, light.lamps[0].elevation_deg))


def shadow_taps(
    towards: NDArray[np.float64], size_deg: float, px_per_mm: float
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Pixel steps towards a round lamp, and how high its ray is there and how soft a shadow's edge."""
    x, y, z = (float(part) for part in towards)
    flat = max(float(np.hypot(x, y)), 1e-6)
    distance = SHADOW_FIRST_MM * SHADOW_GROWTH ** np.arange(SHADOW_STEPS)
    taps = np.rint(distance[:, None] * px_per_mm * np.array([y, x]) / flat).astype(np.int64)
    # A shadow's edge lies where its ray meets the lamp's middle. A round lamp `size` wide fades it over
    # distance x size / sin^2(elevation), where a straight ramp stands for the disc that has its variance:
    # 0.87 as wide. Level ground is not shaded.
    wide = 3.0**0.5 * np.tan(np.deg2rad(max(size_deg, 2.0)) / 2)
    climb = distance * z / flat
    fade = np.minimum(distance * wide / max(z, 0.1) ** 2, 2.0 * climb) + SHADOW_SOFT_MM
    return taps, np.stack([climb + 0.5 * SHADOW_SOFT_MM, fade], 1)


def sky_taps(px_per_mm: float) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Eight directions at each distance; the set maps to itself under quarter turns."""
    angle = np.deg2rad(22.5)
    near, far = float(np.sin(angle)), float(np.cos(angle))
    around = [(near, far), (far, near), (far, -near), (near, -far)]
    around += [(-a, -b) for a, b in around]
    taps, per_mm = [], []
    for radius in OCCLUSION_MM:
        for y, x in around:
            taps.append([np.rint(radius * px_per_mm * y), np.rint(radius * px_per_mm * x)])
            per_mm.append(OCCLUSION_GAIN / radius)
    return np.array(taps, np.int64), np.array(per_mm)
