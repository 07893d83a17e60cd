"""One piece drawn again and again in other threads: only what light does on it is worked out anew."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from render.draw.laid_out import laid_out
from render.draw.layers import bed_part, light_part, prepare, raster_part
from render.draw.shading import dyes_of, packed_sheen
from render.draw.sheen import SheenTable, make_sheen_table

if TYPE_CHECKING:
    from collections.abc import Callable

    from render.draw.layers import Bed, Drawing, Part
    from render.draw.raster import Buffers
    from render.model import Fabric, FibreLobes, Job, Layers, Light, Sewn, Thread, Window


@dataclass(frozen=True, slots=True, eq=False)
class Laid:
    """A piece of one colour block in a window: which thread lies where, and the cloth under it."""

    drawing: Drawing
    part: Part
    buffers: Buffers
    bed: Bed
    light: Light


def laid_of(
    sewn: Sewn,
    thread: Thread,
    lobes: dict[str, FibreLobes],
    job: Job,
    load_fabric: Callable[[str], Fabric],
    window: Window,
) -> Laid:
    """Lay the sewn piece out, in a window small enough for one part, under the job's light."""
    laid = laid_out(sewn, (thread,), job, load_fabric, window.px_per_mm, hairs_of=lobes)
    drawing = prepare(*laid, threads=(thread,), lobes=lobes, light=job.light, window=window)
    part = (0, 0, window.rows, window.cols)
    buffers = raster_part(drawing, part, places=False)
    return Laid(drawing, part, buffers, bed_part(drawing, part, buffers), job.light)


def fibre_table(fibre: FibreLobes, light: Light) -> SheenTable:
    """A sheen table that is made for once and not kept on the disk."""
    return make_sheen_table(fibre, light)


def glossier(table: SheenTable, times: float) -> SheenTable:
    """The table of the same lobes with the skin's share so many times as large."""
    skin = np.minimum(times * table.skin_share, 1.0)
    values = table.values.astype(np.float64)
    values[..., :6] *= (skin / table.skin_share)[..., None]
    values[..., 6:12] *= ((1.0 - skin) / np.maximum(1.0 - table.skin_share, 1e-9))[..., None]
    return SheenTable(values.astype(np.float32), skin, table.most_albedo)


def lit_as(laid: Laid, thread: Thread, fibre: FibreLobes, table: SheenTable) -> Layers:
    """The piece in another thread, which shines by `table`."""
    name = thread.shines_as
    shading = replace(
        laid.drawing.shading,
        dye=dyes_of((thread,), [name], [table], {name: fibre}, laid.light),
        tables=packed_sheen([table]),
    )
    return light_part(replace(laid.drawing, shading=shading), laid.part, laid.buffers, laid.bed)
