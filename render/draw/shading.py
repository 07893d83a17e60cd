"""What shading needs to know of threads and light, the same for every pixel of a picture."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from render.draw.filaments import filaments
from render.draw.shade import AZIMUTH_UNIT
from render.draw.shadow import (
    OCCLUSION_GAIN,
    OCCLUSION_MM,
    SHADOW_FIRST_MM,
    SHADOW_GROWTH,
    SHADOW_STEPS,
)
from render.draw.sheen import AZIMUTH_STEPS, SheenTable, dye_albedo, lamp_direction, sheen_table

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.draw.strands import Strands
    from render.model import FibreLobes, Light, Thread, ThreadKind

# Below this many sub-pixels a mm the plies of a thread are lost, so small pictures are
# drawn at it and averaged: their colours and sheen match those of large ones.
LEAST_PX_PER_MM = 20.0


@dataclass(frozen=True, slots=True, eq=False)
class Shading:
    """What the shading kernel needs besides the buffers, the same for every tile."""

    geometry: NDArray[np.float64]
    azimuth: NDArray[np.int64]
    dye: NDArray[np.float64]
    tables: NDArray[np.float32]
    kind: NDArray[np.int64]
    texture: NDArray[np.int16]
    shadow_taps: NDArray[np.int64]
    shadow_rise: NDArray[np.float64]
    sky_taps: NDArray[np.int64]
    sky_per_mm: NDArray[np.float64]
    key_share: float
    towards_key: NDArray[np.float64]
    supersample: int


def supersampling(px_per_mm: float) -> int:
    """Sub-pixels along each side of a pixel: 2, or a larger even number for small pictures."""
    return 2 * max(1, int(np.ceil(LEAST_PX_PER_MM / px_per_mm / 2)))


def shading_for(
    strands: Strands,
    threads: tuple[Thread, ...],
    lobes: dict[str, FibreLobes],
    light: Light,
    sub_px_per_mm: float,
    sub: int,
    twist: float,
) -> Shading:
    """The tables of the threads under this light, and the light's way, at a scale."""
    kinds = sorted({t.kind for t in threads})
    tables = [sheen_table(lobes[kind], light) for kind in kinds]
    run = strands.end_mm - strands.start_mm
    turn = np.rad2deg(np.arctan2(run[:, 1], run[:, 0])) * (AZIMUTH_UNIT * AZIMUTH_STEPS / 360.0)
    geometry = np.stack(
        [
            np.maximum(np.hypot(*run.T), 1e-6),
            strands.along_mm,
            twist * strands.twist_per_mm,
            strands.thread.astype(np.float64),
        ],
        1,
    )
    taps, rise = np.zeros((0, 2), np.int64), np.zeros((0, 2))
    if light.lamps:
        taps, rise = shadow_taps(_towards_key(light), light.lamps[0].size_deg, sub_px_per_mm / 2)
    around, per_mm = sky_taps(sub_px_per_mm / 2)
    return Shading(
        geometry,
        np.rint(turn).astype(np.int64),
        dyes_of(threads, kinds, tables, lobes),
        np.concatenate([t.values.ravel() for t in tables]) if tables else np.zeros(0, np.float32),
        np.array([kinds.index(t.kind) for t in threads], np.int64),
        filaments(sub_px_per_mm),
        taps,
        rise,
        around,
        per_mm,
        _key_share(light),
        _towards_key(light),
        sub,
    )


def dyes_of(
    threads: tuple[Thread, ...],
    kinds: list[ThreadKind],
    tables: list[SheenTable],
    lobes: dict[str, FibreLobes],
) -> NDArray[np.float64]:
    from render.colour import to_linear

    rows = []
    for thread in threads:
        target = tuple(float(c) for c in to_linear(np.array(thread.colour_srgb)))
        albedo, gloss = dye_albedo(target, tables[kinds.index(thread.kind)])  # type: ignore[arg-type]
        rows.append([*albedo, gloss, lobes[thread.kind].flake, lobes[thread.kind].fuzz])
    return np.array(rows).reshape(-1, 6)


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
    # A round lamp `size` wide fades a shadow's edge over distance x size / sin^2(elevation).
    fade = distance * 2.0 * np.tan(np.deg2rad(max(size_deg, 2.0)) / 2) / max(z, 0.1) ** 2 + 0.02
    return taps, np.stack([distance * z / flat + fade * 0.5, fade], 1)


def sky_taps(px_per_mm: float) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Eight directions at three distances; the set maps to itself under quarter turns."""
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
