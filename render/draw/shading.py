"""What shading needs to know of threads and light, the same for every pixel of a picture."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from render.draw.exposure import white_card_linear
from render.draw.filaments import cached_filaments, packed_filaments
from render.draw.flat_satin import dye_albedo, flat_linear
from render.draw.lit_thread import BY_KEY, BY_REST, CHANNELS, NEUTRAL, REST, SKIN, VOLUME
from render.draw.reach import SHADOW_STEPS
from render.draw.shadow import (
    OCCLUSION_GAIN,
    OCCLUSION_MM,
    SHADOW_FIRST_MM,
    SHADOW_GROWTH,
    SHADOW_SOFT_MM,
)
from render.draw.sheen import COLUMNS, SheenTable, lamp_direction, sheen_table
from render.draw.strand_numbers import OF_THREAD, strand_numbers
from render.draw.surface import mean_glint
from render.draw.thickness import shown_shares
from render.model import Light

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from render.draw.pixel_strands import PixelStrands
    from render.draw.strands import Strands
    from render.model import FibreLobes, Thread

# Below this many sub-pixels a mm the plies of a thread are lost, so small pictures are
# drawn at it and averaged: their colours and sheen match those of large ones.
LEAST_PX_PER_MM = 20.0
# Ways to a lamp in which shadows are looked for, in half-widths of it to either side: the middles of four
# equal parts of a disc. In pictures of fewer blocks a mm they lie less than a block apart, and one does.
ASIDE, ASIDE_FROM_PX_PER_MM = (-0.69, -0.27, 0.27, 0.69), 15.0
EQUAL = 1e-6  # share by which channels of light without colour differ at most: by rounding
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
    texture = cached_filaments(per_mm)
    fibres = [lobes[t.shines_as] for t in threads]
    means = {one: mean_glint(texture, one) for one in {f.sparkle for f in fibres}}
    own = [
        (f.lean_deg, f.valley, f.valley_alone, f.sparkle, 1.0 / means[f.sparkle], f.scatter_per_mm)
        for f in fibres
    ]
    numbers, wholes = strand_numbers(strands, pixel_strands, twist, np.array(own).reshape(-1, OF_THREAD))
    dye = dyes_of(threads, kinds, tables, lobes, light)
    flat = [flat_linear(one, sheen_table(f, EVEN)) for one, f in zip(dye[:, :3], fibres, strict=True)]
    deep, scatter = np.array(flat).reshape(-1, 3), np.array([f.scatter_per_mm for f in fibres])
    return Shading(
        numbers,
        wholes,
        dye,
        packed_sheen(tables),
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


def key_linear(light: Light) -> NDArray[np.float64]:
    """The key lamp's colour, its mean 1."""
    colour = np.array(light.lamps[0].colour_linear if light.lamps else (1.0, 1.0, 1.0)) / white_card_linear(
        light
    )
    return np.asarray(colour / colour.mean())


def packed_sheen(tables: Sequence[SheenTable]) -> NDArray[np.float32]:
    """The values of tables of one light, one after the other (E, `CHANNELS` or `NEUTRAL`): of the key lamp
    only how much, as it is all of one colour, and of all else as well where that has none."""
    values = [table.values.reshape(-1, table.values.shape[-1]) for table in tables]
    parts = np.concatenate(values) if values else np.zeros((0, COLUMNS), np.float32)
    rest = [parts[:, 3:6], parts[:, 9:12]]
    neutral = all(
        np.abs(one[:, k] - one[:, 0]).max(initial=0.0) <= EQUAL * one[:, 0].max(initial=0.0)
        for one in rest
        for k in (1, 2)
    )
    out = np.zeros((len(parts), NEUTRAL if neutral else CHANNELS), np.float32)
    out[:, SKIN], out[:, VOLUME] = (parts[:, at : at + 3].sum(1) / 3 for at in (0, 6))
    out[:, BY_KEY], out[:, BY_REST] = parts[:, 12], parts[:, 13]
    wide = 1 if neutral else 3
    out[:, REST : REST + wide], out[:, REST + wide : REST + 2 * wide] = (one[:, :wide] for one in rest)
    return out


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
    """Pixel steps towards a round lamp, one way to it after the other, and how high its ray is at each step
    and how soft a shadow's edge."""
    x, y, z = (float(part) for part in towards)
    flat = max(float(np.hypot(x, y)), 1e-6)
    distance = SHADOW_FIRST_MM * SHADOW_GROWTH ** np.arange(SHADOW_STEPS)
    aside = np.array(ASIDE if px_per_mm >= ASIDE_FROM_PX_PER_MM else (0.0,))
    # On the ground rays part by more than in space.
    turn = np.arctan(aside * np.tan(np.deg2rad(max(size_deg, 2.0)) / 2) / flat)[:, None]
    ways = (np.cos(turn) * np.array([y, x]) + np.sin(turn) * np.array([x, -y])) / flat
    taps = np.rint(distance[:, None] * px_per_mm * ways[:, None]).astype(np.int64).reshape(-1, 2)
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
