"""Where the cloth lies open, narrowly, between sewn places: found in the cover, in pixels."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.ndimage import (
    binary_dilation,
    distance_transform_edt,
    find_objects,
    label,
    maximum_filter,
    minimum_filter,
)

from render.model import CLOTH, Cover

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from render.model import Floats

    Mask = NDArray[np.bool_]

COARSE = 2  # pixels of the cover to one of the first look
WIDEST_MM = 1.6  # wider openings are not meant to be closed
MOUTH_MM = 0.25  # thread ends are round: so near to open cloth even a slit is wide
CORE_SHARE = 0.7  # of the least width: a square so wide fits into every gap that wide


@dataclass(frozen=True, slots=True, eq=False)
class Opening:
    """An opening: its pixels in the full cover, from (top, left) on, and its width and length."""

    mask: Mask
    top: int
    left: int
    width_mm: float
    length_mm: float


def narrow(cover: Cover, widest_mm: float, mouth_mm: float = 0.0) -> Mask:
    """The open pixels (rows, cols) between sewn ones not further apart, and so far from open cloth."""
    px_per_mm = cover.window.px_per_mm
    rows, cols = (side // COARSE * COARSE for side in cover.stitch.shape)
    open_: Mask = cover.stitch == CLOTH
    # A coarse pixel is sewn where most of it is.
    parts = open_[:rows, :cols].reshape(rows // COARSE, COARSE, cols // COARSE, COARSE)
    coarse = parts.sum((1, 3)) <= COARSE**2 // 2
    reach = round(widest_mm / 2 * px_per_mm / COARSE)
    sewn = np.pad(coarse, reach + 2).astype(np.uint8)
    # Closed by a square: what it closes too much at corners is as open as programmed.
    closed = minimum_filter(maximum_filter(sewn, 2 * reach + 1), 2 * reach + 1)
    mouth = 2 * round(mouth_mm * px_per_mm / COARSE) + 1
    between = (minimum_filter(closed, mouth) > sewn)[reach + 2 : -reach - 2, reach + 2 : -reach - 2]
    # Out to its very edge, where coarse pixels are part sewn.
    between = maximum_filter(between.astype(np.uint8), 3)
    open_[:rows, :cols] &= np.repeat(np.repeat(between, COARSE, 0), COARSE, 1) > 0
    open_[rows:], open_[:, cols:] = False, False
    return open_


def openings(cover: Cover, least_mm: float) -> Iterator[Opening]:
    """Open places at least so wide that lie narrowly between sewn ones."""
    px_per_mm = cover.window.px_per_mm
    fine = narrow(cover, WIDEST_MM, MOUTH_MM).astype(np.uint8)
    # Slits between rows are not gaps: only what holds a square of the least width counts.
    core = max(2, int(least_mm * px_per_mm * CORE_SHARE))
    names, _ = label(minimum_filter(fine, core))
    for number, place in enumerate(find_objects(names), 1):
        opening = _opening(names, number, place, fine, core, least_mm, px_per_mm)
        if opening is not None:
            yield opening


def _opening(
    names: NDArray[np.int32],
    number: int,
    place: tuple[slice, slice],
    fine: NDArray[np.uint8],
    core: int,
    least_mm: float,
    px_per_mm: float,
) -> Opening | None:
    """The opening around one core; None where it is too narrow."""
    top, left = (max(part.start - core - 1, 0) for part in place)
    window = slice(top, place[0].stop + core + 1), slice(left, place[1].stop + core + 1)
    inside = np.pad(fine[window] > 0, 1)
    away = distance_transform_edt(inside)[1:-1, 1:-1]
    mine = names[window] == number
    width_px = _width_px(inside[1:-1, 1:-1], np.where(mine, away, 0.0))
    if width_px < least_mm * px_per_mm:
        return None
    mask = binary_dilation(mine, np.ones((3, 3)), iterations=core // 2 + 1) & inside[1:-1, 1:-1]
    # Over a strip w wide the squared distance from its edge has the mean w^2 / 12.
    usual_px = (12 * float(((away[mask] - 0.5) ** 2).mean())) ** 0.5
    length_px = float(mask.sum()) / max(usual_px, 1.0)
    rows, cols = np.flatnonzero(mask.any(1)), np.flatnonzero(mask.any(0))
    mask = mask[rows[0] : rows[-1] + 1, cols[0] : cols[-1] + 1]
    return Opening(
        mask=mask,
        top=top + int(rows[0]),
        left=left + int(cols[0]),
        width_mm=width_px / px_per_mm,
        length_mm=length_px / px_per_mm,
    )


def _width_px(inside: Mask, away: Floats) -> float:
    """The widest disc's diameter; `away` is how far each pixel is from the edge.

    In whole pixels an even strip is as deep as the odd one below it: halved, both are right.
    """
    row, col = np.unravel_index(int(away.argmax()), away.shape)
    reach = int(np.ceil(away[row, col])) + 2
    near = np.pad(inside, reach)[row : row + 2 * reach + 1, col : col + 2 * reach + 1]
    halves = distance_transform_edt(np.repeat(np.repeat(near, 2, 0), 2, 1))
    return float(halves[2 * reach - 1 : 2 * reach + 3, 2 * reach - 1 : 2 * reach + 3].max())


def around(opening: Opening, room: int, shape: tuple[int, ...]) -> tuple[tuple[slice, slice], Mask]:
    """A window with room around an opening, and its pixels in it."""
    rows, cols = opening.mask.shape
    top, left = max(opening.top - room, 0), max(opening.left - room, 0)
    bottom, right = min(opening.top + rows + room, shape[0]), min(opening.left + cols + room, shape[1])
    mask = np.zeros((bottom - top, right - left), bool)
    mask[opening.top - top :, opening.left - left :][:rows, :cols] = opening.mask
    return (slice(top, bottom), slice(left, right)), mask


def widest_at(cover: Cover, opening: Opening) -> tuple[float, float]:
    """The middle of the widest place, mm."""
    row, col = np.unravel_index(
        int(distance_transform_edt(np.pad(opening.mask, 1))[1:-1, 1:-1].argmax()), opening.mask.shape
    )
    return cover.window.middle_mm(opening.top + int(row), opening.left + int(col))


def box_of_opening(cover: Cover, opening: Opening) -> tuple[float, float, float, float]:
    """Left, top, right, bottom, mm."""
    rows, cols = opening.mask.shape
    half = 0.5 / cover.window.px_per_mm
    left, top = cover.window.middle_mm(opening.top, opening.left)
    right, bottom = cover.window.middle_mm(opening.top + rows - 1, opening.left + cols - 1)
    return left - half, top - half, right + half, bottom + half
