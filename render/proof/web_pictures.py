"""Pictures of the screen proof as the page carries them: lossy where eyes judge, lossless where a
shader reckons.

Scalar planes are kept as grey lossless pictures in coarse steps: lossy ones turn directions by
tens of degrees and give stitches to other colours.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.ndimage import distance_transform_edt

from render.compose import compose
from render.model import CLOTH, Layers, Window
from render.proof.web_light import steps_of
from render.write.picture import encode_webp

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Relightable
    from render.proof.web_light import MovingLamp

PICTURE_QUALITY, UNDER_QUALITY = 88, 72
SHADED = 0.985  # cloth with less than this of its light lies in the shadow of a thread
SHADOW_MM = 0.6  # and not further than this from it
MARGIN_PX = 5  # of pictures that show only in part, so that their edges do not ring
MOST_ORDER = 65534


@dataclass(frozen=True, slots=True, eq=False)
class ScreenPicture:
    """One picture of the page: its WebP files by name, and the window of design space that it shows.

    `order_per_stitch` turns a number of stitches into the order that the planes keep.
    """

    window: Window
    files: dict[str, bytes]
    order_per_stitch: float


def screen_picture(drawn: Relightable, window: Window, lamp: MovingLamp, stitches: int) -> ScreenPicture:
    """Everything that the page needs of one drawn window."""
    picture = compose(drawn.layers, window, transparent=False).pixels
    steps = steps_of(drawn.planes, lamp, picture)
    final = _with_shadows(drawn.final, drawn.layers.cloth_share, SHADOW_MM * window.px_per_mm)
    per_stitch = min(1.0, MOST_ORDER / max(stitches, 1))
    grey = {name: getattr(steps, name) for name in ("block", "azimuth", "tilt", "roll", "body", "sides")}
    grey["order_high"], grey["order_low"] = _bytes_of(final, per_stitch)
    lossy = {
        "picture": (picture, PICTURE_QUALITY),
        "bare": (_only(_bare(drawn, window), final > CLOTH), UNDER_QUALITY),
    }
    for number, earlier in enumerate(drawn.earlier):
        order = np.where(final > CLOTH, earlier.order, CLOTH)
        grey[f"before{number}_high"], grey[f"before{number}_low"] = _bytes_of(order, per_stitch)
        seen = compose(earlier.layers, window, transparent=False).pixels
        lossy[f"before{number}"] = (_only(seen, order > CLOTH), UNDER_QUALITY)
    with ThreadPoolExecutor() as pool:
        planes = [*lossy.values(), *((plane, None) for plane in grey.values())]
        made = pool.map(lambda item: encode_webp(*item), planes)
        files = dict(zip([*lossy, *grey], made, strict=True))
    return ScreenPicture(window, files, per_stitch)


def _bare(drawn: Relightable, window: Window) -> NDArray[np.uint8]:
    """The cloth without any thread, as a picture."""
    nothing = np.zeros_like(drawn.layers.thread_linear)
    whole = np.ones_like(drawn.layers.cloth_share)
    bare = Layers(nothing, drawn.layers.cloth_linear, whole, np.zeros_like(whole))
    return compose(bare, window, transparent=False).pixels


def _with_shadows(
    order: NDArray[np.int32], cloth_share: NDArray[np.float32], reach_px: float
) -> NDArray[np.int32]:
    """Cloth in the shadow of a thread belongs to that thread: it is bright until it is sewn."""
    bare = order == CLOTH
    if bare.all():
        return order
    distance, (row, col) = distance_transform_edt(bare, return_indices=True)
    shaded = bare & (cloth_share < SHADED) & (distance <= reach_px)
    return np.where(shaded, order[row, col], order)


def _bytes_of(order: NDArray[np.int32], per_stitch: float) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
    """High and low byte of 1 + order, 0 for cloth."""
    kept = np.where(order == CLOTH, 0, 1 + np.floor(order * per_stitch)).astype(np.int64)
    return (kept >> 8).astype(np.uint8), (kept & 255).astype(np.uint8)


def _only(picture: NDArray[np.uint8], seen: NDArray[np.bool_]) -> NDArray[np.uint8]:
    """The picture where it is seen, even in its mean colour elsewhere."""
    near = _grown(_grown(seen, MARGIN_PX).T, MARGIN_PX).T
    if not near.any():
        return np.zeros_like(picture)
    total = near.ravel().astype(np.float64) @ picture.reshape(-1, 3).astype(np.float64)
    return np.where(near[..., None], picture, (total / near.sum()).astype(np.uint8))


def _grown(seen: NDArray[np.bool_], by: int) -> NDArray[np.bool_]:
    """Also the rows up to so far above and below those that are seen."""
    out, reach = seen.copy(), 0
    while reach < by:
        step = min(reach + 1, by - reach)
        before = out.copy()
        out[step:] |= before[:-step]
        out[:-step] |= before[step:]
        reach += step
    return out
