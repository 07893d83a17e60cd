"""Thread on a surface that is turned away from the viewer, as a garment's is.

The design is laid out flat as ever; but at each place it knows how the cloth stands there, where
the viewer is and how much light gets past the garment's own folds. Each thread is turned with
the cloth before its lobes are asked, so that sheen moves over a fold as it does in the hand.
"""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from render.draw.frames import tiles_of
from render.draw.ground import piece_shares
from render.draw.layers import (
    TILE_PX,
    Drawing,
    bed_part,
    cloth_pressed,
    merge_bed,
    prepare,
    raster_part,
)
from render.draw.over_thread import hide_in_pile, hide_under_stray
from render.draw.reach import all_in_steps, key_shadow, sky_open
from render.draw.shading import LEAST_PX_PER_MM, shadow_taps, sky_taps
from render.draw.sheen import lamp_direction
from render.draw.shine import Shine, shine_of
from render.draw.turned_kernel import FRAME, shade_turned
from render.model import freeze

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from render.draw.ground import Ground
    from render.draw.layers import Bed, Part
    from render.draw.raster import Buffers
    from render.draw.stack import Stack
    from render.draw.strands import Strands
    from render.model import FibreLobes, Light, Thread, Window

SHARP_PX = 96  # pixels of a side over which thread counts as equally sharp
LOOKS_A_BLUR = 4.0  # looks across a blurred point that are as good as any number (by eye)


@dataclass(frozen=True, slots=True, eq=False)
class Turned:
    """How the cloth stands, at even points of design space.

    `frame (rows, cols, 14)` float32 holds the directions of the cloth's own x and y, of its
    face and towards the viewer, unit vectors of the lights' space; the share of the key lamp
    and of the dome that the garment's own form lets through. `soft_mm (rows, cols)` is over how
    much cloth the lens spreads each point: there one look stands for several pixels. `shown (rows, cols)`
    is whether the picture can show it. Row r, column c belongs to `origin_mm` + `cell_mm` (c, r).
    """

    frame: NDArray[np.float32]
    soft_mm: NDArray[np.float32]
    shown: NDArray[np.bool_]
    origin_mm: tuple[float, float]
    cell_mm: float

    def __post_init__(self) -> None:
        freeze(self, frame=(-1, -1, FRAME), soft_mm=self.frame.shape[:2], shown=self.frame.shape[:2])


@dataclass(frozen=True, slots=True, eq=False)
class TurnedLayers:
    """Thread seen on the turned cloth, laid out flat, linear light.

    `thread_linear (rows, cols, K, 3)` for K sets of thread colours; `cloth_share (rows, cols)`
    how much of the cloth's light is seen past thread and its shadow, `covered` the share that is
    thread, `pressed` what dimples and ridges do to the light of level cloth. Tiles of which nothing is
    shown are bare.
    """

    thread_linear: NDArray[np.float32]
    cloth_share: NDArray[np.float32]
    covered: NDArray[np.float32]
    pressed: NDArray[np.float32]
    window: Window


def draw_turned_layers(
    strands: Strands,
    stacked: Stack,
    ground: Ground,
    *,
    thread_sets: Sequence[tuple[Thread, ...]],
    lobes: dict[str, FibreLobes],
    light: Light,
    window: Window,
    surface: Turned,
    progress: Callable[[float], None] | None = None,
) -> TurnedLayers:
    """Draw the window for every set of threads; the sets differ in colour only."""
    # What shows the surface averages over these pixels again: their own sub-pixels are only for scales
    # at which the plies of a thread would be lost.
    drawing = prepare(
        strands,
        stacked,
        ground,
        threads=thread_sets[0],
        lobes=lobes,
        light=light,
        window=window,
        sub=max(1, int(np.ceil(LEAST_PX_PER_MM / window.px_per_mm))),
    )
    shine = shine_of(thread_sets, lobes, light, surface)
    rows, cols = window.rows, window.cols
    thread_linear = np.zeros((rows, cols, len(thread_sets), 3), np.float32)
    share, covered, pressed = (np.empty((rows, cols), np.float32) for _ in range(3))

    def draw_tile(tile: Part) -> None:
        top, left, high, wide = tile
        if progress is not None:
            progress(top / rows)
        place = (slice(top, top + high), slice(left, left + wide))
        if not _cells(surface, window, tile, surface.shown).any():
            share[place], covered[place], pressed[place] = 1.0, 0.0, 1.0
            return
        buffers = raster_part(drawing, tile)
        bed = bed_part(drawing, tile, buffers)
        out = (thread_linear[place], share[place], covered[place])
        _light_tile(drawing, tile, buffers, bed, surface, light, shine, out)
        pressed[place] = cloth_pressed(drawing, tile, bed)

    with ThreadPoolExecutor(os.cpu_count() or 1) as pool:
        list(pool.map(draw_tile, tiles_of(rows, cols, TILE_PX)))
    return TurnedLayers(thread_linear, share, covered, pressed, window)


def _light_tile(
    drawing: Drawing,
    tile: Part,
    buffers: Buffers,
    bed: Bed,
    surface: Turned,
    light: Light,
    shine: Shine,
    out: tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.float32]],
) -> None:
    """Fill in thread's radiance (rows, cols, K, 3), the share of the cloth's light and that of thread."""
    _, _, high, wide = tile
    window = drawing.window
    shading, halo, sub = drawing.shading, drawing.halo_px, drawing.shading.supersample
    merge_bed(drawing, tile, buffers, bed)
    lit, sky = _reached(drawing, tile, buffers, surface, light)
    inner = (slice(halo * sub, -halo * sub), slice(halo * sub, -halo * sub))
    thread, cloth_share, covered = out
    strand, along, across = buffers.strand[inner], buffers.along[inner], buffers.across[inner]
    for top, left, rows, cols in tiles_of(high, wide, SHARP_PX):
        here = slice(top, top + rows), slice(left, left + cols)
        fine = tuple(slice(side.start * sub, side.stop * sub) for side in here)
        part = (tile[0] + top, tile[1] + left, rows, cols)
        soft = float(_cells(surface, window, part, surface.soft_mm).min()) * window.px_per_mm
        shade_turned(
            strand[fine],
            along[fine],
            across[fine],
            lit[fine],
            sky[fine],
            shading.numbers,
            shading.wholes,
            drawing.pixel_strands.profile,
            shading.texture,
            shine.dyes,
            shine.kind,
            shine.shapes,
            shine.norms,
            shine.upward,
            shine.lamps,
            shine.dome,
            surface.frame,
            _place(surface, window, part),
            shading.key_share,
            sub,
            int(np.clip(soft / LOOKS_A_BLUR, 1, 3)) if sub == 1 else 1,
            thread[here],
            cloth_share[here],
            covered[here],
        )
    if drawing.ground.pile_mm:
        hide_in_pile(drawing, tile, buffers, bed, out)
    if drawing.ground.stray is not None:
        hide_under_stray(drawing, tile, buffers, out)
    if drawing.ground.pieces:
        cloth = bed.laid.radiance_linear[halo : halo + high, halo : halo + wide]
        share = piece_shares(drawing.ground, window, tile)
        thread += ((share * cloth_share)[..., None] * cloth)[:, :, None]
        cloth_share *= 1.0 - share


def _reached(
    drawing: Drawing, tile: Part, buffers: Buffers, surface: Turned, light: Light
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """How much of the key lamp and of the dome reaches each sub-pixel of a tile."""
    window, shading = drawing.window, drawing.shading
    px_per_mm = window.px_per_mm * shading.supersample
    taps, rise = shading.shadow_taps, shading.shadow_rise
    if light.lamps:
        key = _key_here(surface, window, tile, light)
        taps, rise = shadow_taps(key, light.lamps[0].size_deg, px_per_mm)
    height, edge = all_in_steps(buffers.height_mm), drawing.halo_px * shading.supersample
    stands = height, height, height, -(buffers.strand < 0).astype(np.int16)
    sky = sky_open(stands, edge, *sky_taps(px_per_mm))[0]
    return key_shadow(stands, edge, taps, rise)[0], np.minimum(sky, np.float32(1.0))


def _place(surface: Turned, window: Window, tile: Part) -> NDArray[np.float64]:
    """x and y of a tile's first pixel and the step between pixels, in points of the surface."""
    step = 1.0 / (window.px_per_mm * surface.cell_mm)
    first_x = window.centre_mm[0] + (tile[1] + 0.5 - window.cols / 2) / window.px_per_mm
    first_y = window.centre_mm[1] + (tile[0] + 0.5 - window.rows / 2) / window.px_per_mm
    origin, cell = surface.origin_mm, surface.cell_mm
    return np.array([(first_x - origin[0]) / cell, (first_y - origin[1]) / cell, step])


def _cells(surface: Turned, window: Window, tile: Part, field: NDArray[Any]) -> NDArray[Any]:
    """A field of the surface over a tile."""
    (x, y, step), (_, _, high, wide) = _place(surface, window, tile), tile
    rows, cols = field.shape
    left, right = (int(np.clip(x + step * side, 0, cols - 1)) for side in (0, wide))
    top, bottom = (int(np.clip(y + step * side, 0, rows - 1)) for side in (0, high))
    return field[top : bottom + 2, left : right + 2]


def _key_here(surface: Turned, window: Window, tile: Part, light: Light) -> NDArray[np.float64]:
    """Towards the key lamp in the axes of the cloth at the middle of a tile."""
    (x, y, step), (_, _, high, wide) = _place(surface, window, tile), tile
    rows, cols = surface.frame.shape[:2]
    row = int(np.clip(y + step * high / 2, 0, rows - 1))
    col = int(np.clip(x + step * wide / 2, 0, cols - 1))
    axes = surface.frame[row, col, :9].reshape(3, 3).astype(np.float64)
    key = light.lamps[0]
    return np.asarray(axes @ np.array(lamp_direction(key.azimuth_deg, key.elevation_deg)))
