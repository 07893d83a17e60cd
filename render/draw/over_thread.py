"""What of the cloth stands or lies before thread: its pile, and loose fibres of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.draw.fibre_notes import lie_on_cloth, lie_on_thread
from render.draw.frames import map_frame, with_halo
from render.draw.ground import standing_pile
from render.draw.stray import stray_over
from render.draw.veil import hidden_share, lit_by_fibres

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.draw.layers import Bed, Drawing, Part
    from render.draw.raster import Buffers


def hide_in_pile(
    drawing: Drawing,
    part: Part,
    buffers: Buffers,
    bed: Bed,
    out: tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.float32]],
) -> None:
    """Let the pile stand before thread in `out`, a part's thread, share of cloth's light and of thread;
    thread and cloth are merged in the buffers already. Fibres that rise out of a shadow soften it."""
    top, left, _, _ = part
    ground, window, halo = drawing.ground, drawing.window, drawing.halo_px
    level_mm, bright = standing_pile(ground, bed.laid, window, with_halo(part, halo, 1))
    frame = map_frame(drawing.strands, window, top, left, 1)
    sub = drawing.shading.supersample
    hidden = hidden_share(
        buffers.height_mm, buffers.strand, sub, halo, level_mm, bright, bed.dimple_steps, frame
    )
    thread, cloth_share, covered = out
    cloth_share += (1.0 - covered - cloth_share) * np.float32(lit_by_fibres(ground.pile_mm))
    cloth_share += covered * hidden
    covered *= 1.0 - hidden
    thread *= (1.0 - hidden).reshape(*hidden.shape, *[1] * (thread.ndim - 2))


def hide_under_stray(
    drawing: Drawing,
    part: Part,
    buffers: Buffers,
    out: tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.float32]],
    cloth_linear: NDArray[np.float32] | None = None,
    bare: NDArray[np.int32] | None = None,
) -> None:
    """Let loose fibres of the cloth lie over thread in `out`, as `hide_in_pile` does, and over the cloth if
    that is given; `bare` is as for `stray_over`."""
    ground, sub, halo = drawing.ground, drawing.shading.supersample, drawing.halo_px
    assert ground.stray is not None
    axes, seed = ground.cloth.axes, ground.seed
    towards, share = drawing.shading.towards_key, drawing.shading.key_share
    where = drawing.window, part, buffers.strand, sub, halo, seed
    noted = stray_over(ground.stray, axes, *where, towards_key=towards, key_share=share, bare=bare)
    thread, cloth_share, covered = out
    if cloth_linear is not None:
        lie_on_cloth(*noted, covered, ground.below_linear, cloth_linear)
    lie_on_thread(*noted, thread if thread.ndim == 4 else thread[:, :, None], cloth_share, covered)
