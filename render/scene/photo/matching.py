"""What a photograph tells of itself: where its light comes from, how soft and how grainy it is, and
how light falls over the garment's folds."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.ndimage import convolve, gaussian_filter, sobel

from render.colour import SRGB_TO_XYZ, to_linear

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Box = tuple[int, int, int, int]

REBLUR_PX = 1.0
AROUND_PX = 1400
CARD_LINEAR = 0.85  # what a white card shows in a usual exposure, where the garment's colour is not known
OWN_BLUR_PX = 0.55  # of a drawn picture (measured on a drawn edge)
FOLD_MM = (2.2, 60.0)  # scales between which lightness is folds, not weave and not the garment's form


@dataclass(frozen=True, slots=True, eq=False)
class Look:
    """Of a photograph around the place: `azimuth_deg` of the light, `blur_px` the standard deviation of
    its edges' softness, `grain` that of its noise in sRGB, `card_linear (3,)` what a white card would
    show, `shading (rows, cols)` of the box relative to its middle."""

    azimuth_deg: float
    blur_px: float
    grain: float
    card_linear: NDArray[np.float64]
    shading: NDArray[np.float32]


def look_of(
    srgb: NDArray[np.float32], box: Box, px_per_mm: float, true_srgb: tuple[float, float, float] | None
) -> Look:
    """Measure a photograph within a box (top, left, bottom, right); `true_srgb` is the garment's own
    colour, if known: what it looks like in the photo then tells the light's strength and colour."""
    top, left, bottom, right = box
    part = srgb[top:bottom, left:right]
    linear = to_linear(part)
    light = (linear @ SRGB_TO_XYZ[1]).astype(np.float32)
    card = np.full(3, CARD_LINEAR)
    if true_srgb is not None:
        own = np.maximum(to_linear(np.array(true_srgb)), 0.004)
        card = np.clip(np.median(linear.reshape(-1, 3), axis=0) / own, 0.02, 3.0)
        # Hardly any of a channel in the cloth tells hardly anything of it in the light.
        sure = np.clip(own / 0.05, 0.0, 1.0)
        card = sure * card + (1.0 - sure) * float(card @ sure / max(sure.sum(), 1e-9))
    softness = blur_px((to_linear(_around(srgb, box)) @ SRGB_TO_XYZ[1]).astype(np.float32))
    return Look(light_azimuth_deg(light, px_per_mm), softness, grain(part), card, shading(light, px_per_mm))


def _around(srgb: NDArray[np.float32], box: Box) -> NDArray[np.float32]:
    """The photograph well around a box: a blank place alone may have no edge to tell its softness by."""
    row, col = (box[0] + box[2]) // 2, (box[1] + box[3]) // 2
    high, wide = (max(AROUND_PX, side) // 2 for side in (box[2] - box[0], box[3] - box[1]))
    return srgb[max(row - high, 0) : row + high, max(col - wide, 0) : col + wide]


def light_azimuth_deg(light: NDArray[np.float32], px_per_mm: float) -> float:
    """Where the light comes from: the mean direction in which smooth cloth gets lighter (Lee & Rosenfeld
    1985, tilt of the illuminant). 225, upper left, where the photograph does not say."""
    smooth = gaussian_filter(np.log(np.maximum(light, 1e-3)), max(6.0 * px_per_mm, 3.0))
    down, right = np.gradient(smooth)
    x, y = float(right.mean()), float(down.mean())
    spread = float(np.hypot(right, down).mean())
    if np.hypot(x, y) < 0.25 * spread or spread < 1e-6:
        return 225.0
    return float(np.rad2deg(np.arctan2(y, x)) % 360.0)


def blur_px(light: NDArray[np.float32]) -> float:
    """Softness of the sharpest edges: how much less their gradient gets when blurred once more
    (Zhuo & Sim 2011: sigma = sigma0 / sqrt(R^2 - 1))."""
    root = np.sqrt(np.maximum(light, 0.0))
    soft = gaussian_filter(root, 0.5)
    before = np.hypot(sobel(soft, 0), sobel(soft, 1))
    after_plane = gaussian_filter(soft, REBLUR_PX)
    after = np.hypot(sobel(after_plane, 0), sobel(after_plane, 1))
    strong = before >= np.quantile(before, 0.995)
    ratio = float(np.quantile(before[strong] / np.maximum(after[strong], 1e-9), 0.7))
    if ratio <= 1.02:
        return 4.0
    # Less what softened it here: the first blur, and the step between samples of the derivative.
    sigma2 = REBLUR_PX**2 / (ratio**2 - 1.0) - 0.25 - 1 / 3
    return float(np.sqrt(max(sigma2, 0.0)))


def grain(srgb: NDArray[np.float32]) -> float:
    """Standard deviation of noise: the quietest tenth of blocks under Immerkaer's (1996) mask, which
    sees neither slopes nor edges."""
    grey = srgb.mean(axis=2, dtype=np.float64)
    mask = np.array([[1, -2, 1], [-2, 4, -2], [1, -2, 1]])
    over = np.abs(convolve(grey, mask)) * np.sqrt(np.pi / 2) / 6.0
    rows, cols = (side // 16 * 16 for side in over.shape)
    if rows == 0 or cols == 0:
        return 0.0
    blocks = over[:rows, :cols].reshape(rows // 16, 16, cols // 16, 16).mean(axis=(1, 3))
    # The mean of three channels' noise is less than that of one.
    return float(np.clip(np.quantile(blocks, 0.1) * np.sqrt(3.0), 0.0, 0.06))


def shading(light: NDArray[np.float32], px_per_mm: float) -> NDArray[np.float32]:
    """Light over the folds relative to the form around them, without weave."""
    small, large = (max(mm * px_per_mm, 0.8) for mm in FOLD_MM)
    fine = gaussian_filter(light, small)
    around = gaussian_filter(light, min(large, max(light.shape)))
    return np.asarray(np.clip(fine / np.maximum(around, 1e-3), 0.35, 1.8), np.float32)
