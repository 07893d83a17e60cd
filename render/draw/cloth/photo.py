"""A photograph of cloth as a fabric: evened, made seamless, at its own scale."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from render.colour import to_linear
from render.draw.cloth.lit import BRIGHTEST
from render.errors import InputError
from render.photos import DAMAGED, deep_grey, upright

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Colour, Fabric

    Plane = NDArray[np.floating[Any]]

LARGEST_MM = 60.0  # of the photo that is used: more only costs memory
SEAM_SHARE = 0.15  # of each side that is blended with the opposite side
EVEN_MM = 6.0  # lighting that changes over more than this is taken out
LEAST_PX = 64
FORMATS = ("JPEG", "PNG", "TIFF", "WEBP")
RELIEF_MM = 0.06  # of height between the darkest and lightest places (estimate)


def photo_texels(
    fabric: Fabric, colour_srgb: Colour | None, px_per_mm: float
) -> tuple[Plane, tuple[float, float]]:
    """Radiance and height (R, C, 4) of the fabric's photo as a torus, and its size in mm."""
    scale = float(fabric.structure["photo"]["px_per_mm"])
    linear = _read(Path(fabric.folder) / fabric.structure["photo"]["file"], int(LARGEST_MM * scale))
    if scale > 2.5 * px_per_mm:
        # More detail than the picture can show twice over.
        step = int(scale / (2.0 * px_per_mm))
        rows, cols = (n // step * step for n in linear.shape[:2])
        linear = linear[:rows, :cols].reshape(rows // step, step, cols // step, step, 3).mean(axis=(1, 3))
        scale /= step
    if min(linear.shape[:2]) < LEAST_PX:
        raise InputError(
            f"{fabric.structure['photo']['file']}: the photo of {fabric.name} is smaller than {LEAST_PX} "
            f"useful pixels a side; use a larger one."
        )
    flat = seamless(evened(linear, EVEN_MM * scale))
    mean = flat.mean(axis=(0, 1))
    wanted = np.minimum(to_linear(np.array(colour_srgb)), BRIGHTEST) if colour_srgb is not None else mean
    grey = flat.mean(axis=2)
    height = RELIEF_MM * (grey / max(float(grey.mean()), 1e-6) - 1.0).clip(-1, 1)
    texels = np.dstack([flat * (wanted / np.maximum(mean, 1e-6)), height - height.mean()])
    rows, cols = grey.shape
    return texels.astype(np.float32), (cols / scale, rows / scale)


def evened(linear: Plane, sigma_px: float) -> Plane:
    """Take out uneven lighting: divide by the slow part of the brightness."""
    from scipy.ndimage import gaussian_filter

    grey = linear.mean(axis=2)
    slow = gaussian_filter(grey, sigma_px, mode="reflect")
    return np.asarray(linear * (grey.mean() / np.maximum(slow, 1e-4))[..., None], np.float32)


def seamless(linear: Plane) -> Plane:
    """Blend each edge into its opposite, so that the photo can lie side by side with itself.

    Weights keep the contrast where two unrelated places are mixed (their squares sum to 1).
    """
    for axis in (0, 1):
        moved = np.moveaxis(linear, axis, 0)
        n = len(moved)
        seam = max(4, int(SEAM_SHARE * n))
        mean = moved.mean(axis=(0, 1))
        turn = 0.5 * np.pi * (np.arange(seam) + 0.5)[:, None, None] / seam
        body = moved[: n - seam].copy()
        body[:seam] = mean + np.sin(turn) * (body[:seam] - mean) + np.cos(turn) * (moved[n - seam :] - mean)
        linear = np.moveaxis(np.clip(body, 0.0, None), 0, axis)
    return np.ascontiguousarray(linear, np.float32)


def _read(path: Path, most_px: int) -> Plane:
    """Linear light (rows, cols, 3) of the photo, turned as it was taken; at most so many pixels a side."""
    from PIL import Image

    try:
        with Image.open(path, formats=FORMATS) as image:
            image.load()
            turned = upright(image)
            used = turned.crop((0, 0, min(turned.width, most_px), min(turned.height, most_px)))
    except DAMAGED as error:
        raise InputError(f"{path}: cannot be read as a photo of cloth; give a JPEG, PNG or TIFF.") from error
    grey = deep_grey(used)
    if grey is not None:
        return np.asarray(np.repeat(to_linear(grey)[..., None], 3, axis=2), np.float32)
    return np.asarray(to_linear(np.asarray(used.convert("RGB"), np.float64) / 255), np.float32)
