"""Draw a part of sewn strands on lit cloth: its layers.

Layers are linear light at the picture's own resolution, already averaged over
sub-pixels, so that the same layers serve an opaque picture and a cut-out.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from render.draw.across import CELL_MM
from render.draw.block_rows import FLATTENS, press_onto
from render.draw.fine_thread import fine_thickness, times_as_fine
from render.draw.frames import blocks_frame, inner_frame, map_frame, strand_boxes, with_halo
from render.draw.ground import lay_ground
from render.draw.over_thread import hide_in_pile, hide_under_stray
from render.draw.pixel_strands import PixelStrands, to_pixels
from render.draw.pucker import add_ridge_light, held_down
from render.draw.raster import Buffers, rasterise
from render.draw.reach import key_shadow, sky_open
from render.draw.shade import shade
from render.draw.shading import shading_for, supersampling
from render.draw.shadow import (
    HALO_MM,
    cloth_wanted,
    darken_pits,
    dimple_light,
    merge_blocks,
    merge_cloth,
)
from render.draw.thickness import thickness_at
from render.model import Layers

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.draw.cloth import ClothLayer
    from render.draw.ground import Ground
    from render.draw.pucker import Pucker
    from render.draw.shading import Shading
    from render.draw.stack import Stack
    from render.draw.strands import Strands
    from render.model import FibreLobes, Light, Thread, Window

    Part = tuple[int, int, int, int]

TILE_PX = 512
BAND_PX = 1 << 16  # whose light stays in the caches
# One over how deep cloth lies beside stitching where it has half the light of level cloth: in a hollow, drawn
# together (calibrated by eye). From so deep on it is less, from twice as deep nothing: thread lies over that
# cloth, and its light is told by what it sees.
HOLLOW_PER_MM, HOLLOW_MM = 0.3, 0.15


@dataclass(frozen=True, slots=True, eq=False)
class Drawing:
    """A window ready to be drawn, part by part; `halo_px` around a part is what may shade it."""

    strands: Strands
    stacked: Stack
    ground: Ground
    pixel_strands: PixelStrands
    boxes: NDArray[np.float64]
    shading: Shading
    ridges: Pucker | None
    highest_mm: float
    window: Window
    times: int

    @property
    def halo_px(self) -> int:
        return int(np.ceil(HALO_MM * self.window.px_per_mm)) + 1


@dataclass(frozen=True, slots=True, eq=False)
class Bed:
    """The cloth under a part: laid out with the part's halo, pressed down by the stitching, rippled; and how
    much thread lies over it.

    `wanted` are the pixels that are laid, with the halo; None says all. How much thread there is in cells so
    many `times` as fine as the map's is told from the strands, which then all lie there.
    """

    laid: ClothLayer
    dimple_steps: NDArray[np.int16]
    thread_mm: NDArray[np.float32]
    ridges: Pucker | None
    wanted: NDArray[np.bool_] | None = None
    times: int = 1


@dataclass(frozen=True, slots=True, eq=False)
class Blocks:
    """Thread and cloth in blocks of two by two sub-pixels: heights and what is shown, see `merge_blocks`."""

    stands: NDArray[np.int16]
    sets: NDArray[np.int32]


def prepare(
    strands: Strands,
    stacked: Stack,
    ground: Ground,
    *,
    threads: tuple[Thread, ...],
    lobes: dict[str, FibreLobes],
    light: Light,
    window: Window,
    twist: float = 1.0,
    sub: int | None = None,
) -> Drawing:
    """Everything that the parts of the window have in common; `sub` sub-pixels a side, None as usual."""
    sub = supersampling(window.px_per_mm) if sub is None else sub
    pixel_strands = to_pixels(strands, stacked, window.centre_mm, window.px_per_mm * sub, twist)
    ridges = None
    if ground.pucker is not None:
        ridges = held_down(ground.pucker, stacked.dimple_steps, strands.anchor_mm)
    return Drawing(
        strands,
        stacked,
        ground,
        pixel_strands,
        strand_boxes(pixel_strands, window, sub),
        shading_for(strands, pixel_strands, threads, lobes, light, ground.below_linear, sub, twist),
        ridges,
        ground.highest_mm,
        window,
        times_as_fine(stacked, window.px_per_mm),
    )


def raster_part(drawing: Drawing, part: Part, *, places: bool = True) -> Buffers:
    """The topmost thread of a part (first row, first column, rows, columns) and of its halo."""
    return _rastered(drawing, part, np.flatnonzero(strands_in(drawing, part)), places=places)


def raster_some(drawing: Drawing, part: Part, chosen: NDArray[np.bool_], *, places: bool = True) -> Buffers:
    """The topmost of the `chosen` (N,) strands, as `raster_part` has it of all."""
    return _rastered(drawing, part, np.flatnonzero(chosen & strands_in(drawing, part)), places=places)


def raster_these(drawing: Drawing, part: Part, chosen: NDArray[np.int64]) -> Buffers:
    """As `raster_part` without places, of the `chosen` strands, rising: all that may show there."""
    return _rastered(drawing, part, chosen, places=False)


def strands_in(drawing: Drawing, part: Part) -> NDArray[np.bool_]:
    """Which strands (N,) may show in a part or its halo."""
    rect = with_halo(part, drawing.halo_px, drawing.shading.supersample)
    boxes = drawing.boxes
    hit = (boxes[:, 0] < rect[1] + rect[3]) & (boxes[:, 2] > rect[1])
    return np.asarray(hit & (boxes[:, 1] < rect[0] + rect[2]) & (boxes[:, 3] > rect[0]))


def _rastered(drawing: Drawing, part: Part, chosen: NDArray[np.int64], *, places: bool) -> Buffers:
    """The topmost of the `chosen` strands of the window in a part and its halo."""
    window, sub = drawing.window, drawing.shading.supersample
    rect, shape = with_halo(part, drawing.halo_px, sub), (window.rows * sub, window.cols * sub)
    return rasterise(drawing.pixel_strands, chosen, rect, shape, places=places)


def bed_part(drawing: Drawing, part: Part, buffers: Buffers | None = None) -> Bed:
    """The finished cloth under a part; if its thread is given, only where that may leave some to be seen."""
    dimple_steps, wanted = drawing.stacked.dimple_steps, None
    if buffers is not None:
        sub = drawing.shading.supersample
        wanted = cloth_wanted(
            buffers.height_mm, drawing.highest_mm, sub, dimple_steps, blocks_frame(drawing, part)
        )
    laid = lay_ground(drawing.ground, drawing.window, with_halo(part, drawing.halo_px, 1), wanted)
    return Bed(laid, dimple_steps, drawing.stacked.thread_mm, drawing.ridges, wanted, drawing.times)


def light_part(drawing: Drawing, part: Part, buffers: Buffers, bed: Bed) -> Layers:
    """Light a part. `buffers` hold its thread and that of its halo; where cloth hides thread, that is
    taken out of them."""
    top, left, high, wide = part
    window, pixel_strands = drawing.window, drawing.pixel_strands
    shading, halo, sub = drawing.shading, drawing.halo_px, drawing.shading.supersample
    cloth = light_on_cloth(drawing, part, bed)
    blocks = blocks_of(drawing, part, buffers, bed)
    edge = halo * sub // 2
    stands = tuple(blocks.stands)
    lit = key_shadow(stands, edge, shading.shadow_taps, shading.shadow_rise)
    sky = sky_open(stands, edge, shading.sky_taps, shading.sky_per_mm)
    if drawing.stacked.bedding.pit_mm > 0.0:
        darken_pits(bed.dimple_steps, inner_frame(drawing, part), blocks.sets, edge, lit, sky)
    thread = np.empty((high, wide, 3), np.float32)
    share, covered = np.empty((high, wide), np.float32), np.empty((high, wide), np.float32)
    thick, map_of = np.empty((high, wide), np.float32), map_frame(drawing.strands, window, top, left, 1)
    if bed.times > 1:
        own = np.flatnonzero(strands_in(drawing, part))
        fine_thickness(drawing.strands, drawing.stacked, own, map_of, bed.times, thick)
    else:
        thickness_at(bed.thread_mm, map_of, thick)
    corner = top * sub - window.rows * sub / 2 + 0.5, left * sub - window.cols * sub / 2 + 0.5
    shade(
        buffers.strand,
        blocks.sets,
        lit,
        sky,
        thick,
        pixel_strands.start_px,
        shading.numbers,
        shading.wholes,
        pixel_strands.profile,
        shading.dye,
        shading.tables,
        shading.kind,
        shading.shown,
        shading.texture,
        np.array([*corner, shading.key_share, *shading.key_linear, shading.walls, 1.0 / bed.times]),
        sub,
        edge,
        thread,
        share,
        covered,
    )
    if drawing.ground.pile_mm:
        hide_in_pile(drawing, part, buffers, bed, (thread, share, covered))
    if drawing.ground.stray is not None:
        hide_under_stray(drawing, part, buffers, (thread, share, covered), cloth, blocks.sets)
    return Layers(thread, cloth, share, covered)


def blocks_of(drawing: Drawing, part: Part, buffers: Buffers, bed: Bed) -> Blocks:
    """Thread and cloth of a part and its halo together, as the light meets them; where cloth hides
    thread, that is taken out of the buffers."""
    sub = drawing.shading.supersample
    rect = with_halo(part, drawing.halo_px, sub // 2)
    stands, sets = np.empty((4, *rect[2:]), np.int16), np.empty(rect[2:], np.int32)
    merge_blocks(
        buffers.height_mm,
        buffers.strand,
        bed.laid.height_mm,
        _wanted(bed),
        bed.dimple_steps,
        blocks_frame(drawing, part),
        sub,
        stands,
        sets,
    )
    return Blocks(stands, sets)


def light_on_cloth(drawing: Drawing, part: Part, bed: Bed) -> NDArray[np.float32]:
    """The light (rows, cols, 3) of a part's pressed cloth: some rows at a time, while those are at hand."""
    top, left, high, wide = part
    halo, out = drawing.halo_px, np.empty((high, wide, 3), np.float32)
    wanted = _wanted(bed)[halo : halo + high, halo : halo + wide]
    some = max(BAND_PX // wide, 1)
    for begin in range(0, high, some):
        own = slice(begin, min(begin + some, high))
        rows = top + begin, left, own.stop - begin, wide
        press_onto(bed.laid.radiance_linear, halo, begin, _pressed(drawing, rows, bed, wanted[own]), out)
    return out


def cloth_pressed(drawing: Drawing, part: Part, bed: Bed) -> NDArray[np.float32]:
    """What dimples and ridges do to the light of level cloth, over a part."""
    halo, (_, _, high, wide) = drawing.halo_px, part
    return _pressed(drawing, part, bed, _wanted(bed)[halo : halo + high, halo : halo + wide])


def _pressed(drawing: Drawing, part: Part, bed: Bed, wanted: NDArray[np.bool_]) -> NDArray[np.float32]:
    """`cloth_pressed` in the wanted pixels of a part."""
    top, left, _, _ = part
    window, shading = drawing.window, drawing.shading
    # Stitching flattens the bed that it lies in, which makes its rim as much steeper; crushed nap is more so.
    crushed = drawing.ground.crushed
    steeper = (1.0 + FLATTENS * drawing.ground.bed_mm) * crushed
    wanted = np.ascontiguousarray(wanted)
    pressed = dimple_light(
        bed.dimple_steps,
        map_frame(drawing.strands, window, top, left, 1),
        wanted,
        shading.towards_key,
        shading.key_share * steeper,
        CELL_MM,
        (HOLLOW_PER_MM * crushed, HOLLOW_MM),
    )
    if bed.ridges is not None:
        towards, share = shading.towards_key, shading.key_share * drawing.ground.cloth.glints
        add_ridge_light(pressed, bed.ridges, window, (top, left), wanted, towards=towards, key_share=share)
    return pressed


def _wanted(bed: Bed) -> NDArray[np.bool_]:
    return np.ones(bed.laid.height_mm.shape, np.bool_) if bed.wanted is None else bed.wanted


def merge_bed(drawing: Drawing, part: Part, buffers: Buffers, bed: Bed) -> None:
    """Put the cloth under a part and its halo into the part's buffers."""
    sub = drawing.shading.supersample
    rect = with_halo(part, drawing.halo_px, sub)
    frame = map_frame(drawing.strands, drawing.window, rect[0], rect[1], sub)
    merge_cloth(buffers.height_mm, buffers.strand, bed.laid.height_mm, bed.dimple_steps, frame, sub)
