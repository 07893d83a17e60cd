"""A picture with what is needed to light it anew, and to show it half sewn.

Light that moves needs the thread's direction, its tilt, the roll of its surface and from which
sides a lamp reaches it; a piece half sewn needs the order, and what lay there before.
"""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING

import numpy as np
from scipy.ndimage import maximum_filter

from render.draw.frames import tiles_of
from render.draw.laid_out import laid_out
from render.draw.layers import (
    TILE_PX,
    bed_part,
    blocks_of,
    light_part,
    prepare,
    raster_part,
    raster_some,
    strands_in,
)
from render.draw.planes_kernel import lie_in_pixels
from render.draw.reach import key_shadow
from render.draw.shading import shadow_taps
from render.draw.sheen import lamp_direction
from render.model import CLOTH, Earlier, Layers, Relightable, ThreadPlanes

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from typing import Any

    from numpy.typing import NDArray

    from render.draw.layers import Blocks, Drawing, Part
    from render.draw.raster import Buffers
    from render.draw.strands import Strands
    from render.model import Fabric, FibreLobes, Job, Sewn, Thread, Window

SIDES = 8  # from which light is asked for, evenly around, the first from the right
SIDE_ELEVATION_DEG = 40.0  # of the lamp that asks: between the usual studio lamps
SIDE_SIZE_DEG = 12.0
DEPTH = 2  # colour blocks under the one on top that are kept; seldom are there more
EDGE_MM = 0.17  # around thread of which a place still looks different without it


def draw_relightable(
    sewn: Sewn,
    *,
    threads: tuple[Thread, ...],
    lobes: dict[str, FibreLobes],
    load_fabric: Callable[[str], Fabric],
    job: Job,
    windows: Sequence[Window],
    progress: Callable[[float], None] | None = None,
) -> Iterator[Relightable]:
    """Draw each window, all at one scale, as `draw` does, with planes that tell how its thread lies.

    `progress` hears the share done of each window in [0, 1].
    """
    laid = laid_out(sewn, threads, job, load_fabric, windows[0].px_per_mm)

    def drawn(window: Window) -> Relightable:
        drawing = prepare(*laid, threads=threads, lobes=lobes, light=job.light, window=window)
        return _draw(drawing, progress)

    with ThreadPoolExecutor(os.cpu_count() or 1) as pool:  # small ones are a single tile each
        yield from pool.map(drawn, windows)


def _draw(drawing: Drawing, progress: Callable[[float], None] | None) -> Relightable:
    rows, cols = drawing.window.rows, drawing.window.cols
    out: dict[str, NDArray[Any]] = {}
    tiles = tiles_of(rows, cols, TILE_PX)
    with ThreadPoolExecutor(os.cpu_count() or 1) as pool:
        drawn = pool.map(lambda tile: _draw_part(drawing, tile), tiles)
        for done, ((top, left, high, wide), part) in enumerate(zip(tiles, drawn, strict=True), 1):
            if progress is not None:
                progress(done / len(tiles))
            for name, plane in part.items():
                whole = out.setdefault(name, np.empty((rows, cols, *plane.shape[2:]), plane.dtype))
                whole[top : top + high, left : left + wide] = plane
    azimuth, tilt, roll = np.moveaxis(out["angles"], -1, 0)
    return Relightable(
        _layers(out, ""),
        ThreadPlanes(out["order"], out["block"], azimuth, tilt, roll, out["body"], out["sides"]),
        out["final"],
        tuple(Earlier(_layers(out, f"{depth} "), out[f"{depth} order"]) for depth in range(DEPTH)),
    )


def _layers(planes: dict[str, NDArray[Any]], which: str) -> Layers:
    return Layers(**{name: planes[which + name] for name in Layers.__slots__})


def _draw_part(drawing: Drawing, part: Part) -> dict[str, NDArray[Any]]:
    """Every plane of a part by name, those of what lay there before with its number in front."""
    strands, landed = drawing.strands, _landed(drawing.strands)
    bed, above = bed_part(drawing, part), raster_part(drawing, part)
    near = _latest_near(drawing, np.append(strands.thread, CLOTH)[above.strand])
    earlier = _before(drawing, part, near)
    lit = light_part(drawing, part, above, bed)
    order, angles, body = _lie(drawing, part, above)
    halo, (_, _, high, wide) = drawing.halo_px, part
    final = _latest_near(drawing, landed[above.strand])[halo : halo + high, halo : halo + wide]
    out = {
        **{name: getattr(lit, name) for name in Layers.__slots__},
        "order": landed[order],
        "block": np.append(strands.thread, CLOTH)[order],
        "angles": angles,
        "body": body,
        "sides": _sides_reached(drawing, part, blocks_of(drawing, part, above, bed)),
        "final": final,
    }
    for depth, buffers in enumerate(earlier):
        seen = light_part(drawing, part, buffers, bed) if (buffers.strand >= 0).any() else _bare(lit)
        out |= {f"{depth} {name}": getattr(seen, name) for name in Layers.__slots__}
        latest = _whole(landed[buffers.strand], drawing.shading.supersample)
        out[f"{depth} order"] = latest[halo : halo + high, halo : halo + wide]
    return out


def _bare(lit: Layers) -> Layers:
    """The same cloth without thread."""
    nothing, whole = np.zeros_like(lit.thread_linear), np.ones_like(lit.covered)
    return Layers(nothing, lit.cloth_linear, whole, np.zeros_like(whole))


def _landed(strands: Strands) -> NDArray[np.int32]:
    """The stitch that each strand is, or comes after; `CLOTH` at the end, for no strand."""
    stitch = strands.stitch
    return np.append(np.where(stitch < 0, np.maximum(-3 - stitch, 0), stitch), CLOTH).astype(np.int32)


def _latest_near(drawing: Drawing, number: NDArray[np.int32]) -> NDArray[np.int32]:
    """The highest number within a pixel and the few around it that its thread shades: per pixel."""
    reach = round(EDGE_MM * drawing.window.px_per_mm)
    return np.asarray(maximum_filter(_whole(number, drawing.shading.supersample), 2 * reach + 1))


def _whole(number: NDArray[np.int32], sub: int) -> NDArray[np.int32]:
    """The highest number among the sub-pixels of each pixel."""
    rows = np.maximum.reduce([number[at::sub] for at in range(sub)])
    return np.asarray(np.maximum.reduce([rows[:, at::sub] for at in range(sub)]))


def _before(drawing: Drawing, part: Part, near: NDArray[np.int32]) -> list[Buffers]:
    """What lay on top before the colour block `near` each pixel was sewn, and what before that."""
    sub, block = drawing.shading.supersample, drawing.strands.thread
    over = near.repeat(sub, axis=0).repeat(sub, axis=1)
    before = [raster_some(drawing, part, np.zeros(len(block), bool), places=False) for _ in range(DEPTH)]
    latest = int(near.max(initial=CLOTH))
    for one in np.unique(block[strands_in(drawing, part)]):
        if one >= latest:
            break
        sewn = raster_some(drawing, part, block == one, places=False)
        here = (sewn.strand >= 0) & (over > one)
        # The new block covers what lay there, which moves one down.
        for lower, upper in zip(before[:0:-1], before[-2::-1], strict=True):
            _copy(upper, lower, here)
        _copy(sewn, before[0], here)
    return before


def _copy(source: Buffers, target: Buffers, here: NDArray[np.bool_]) -> None:
    np.copyto(target.height_mm, source.height_mm, where=here)
    np.copyto(target.strand, source.strand, where=here)


def _lie(
    drawing: Drawing, part: Part, buffers: Buffers
) -> tuple[NDArray[np.int32], NDArray[np.float32], NDArray[np.float32]]:
    """Order, angles and body of a part, see `lie_in_pixels`."""
    shading, sub = drawing.shading, drawing.shading.supersample
    edge, shape = drawing.halo_px * sub, part[2:]
    inner = (slice(edge, -edge), slice(edge, -edge))
    order = np.empty(shape, np.int32)
    angles, body = np.zeros((*shape, 3), np.float32), np.zeros(shape, np.float32)
    lie_in_pixels(
        buffers.strand[inner],
        buffers.along[inner],
        buffers.across[inner],
        shading.numbers,
        shading.wholes,
        drawing.pixel_strands.profile,
        shading.dye,
        shading.texture,
        sub,
        order,
        angles,
        body,
    )
    return order, angles, body


def _sides_reached(drawing: Drawing, part: Part, blocks: Blocks) -> NDArray[np.uint8]:
    """One bit a side from which a lamp reaches most of a pixel."""
    fine = drawing.shading.supersample // 2
    edge, (_, _, high, wide) = drawing.halo_px * fine, part
    reached = np.zeros((high, wide), np.uint8)
    for side in range(SIDES):
        towards = np.array(lamp_direction(side * 360.0 / SIDES, SIDE_ELEVATION_DEG))
        taps, rise = shadow_taps(towards, SIDE_SIZE_DEG, drawing.window.px_per_mm * fine)
        lit = key_shadow(tuple(blocks.stands), edge, taps, rise)[0]
        share = lit.reshape(high, fine, wide, fine).mean(axis=(1, 3))
        reached |= (share > 0.5).astype(np.uint8) << np.uint8(side)
    return reached
