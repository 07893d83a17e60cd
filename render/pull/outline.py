"""Programmed against sewn: flat areas of thread as sewn, and the outlines that were programmed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.ndimage import distance_transform_edt, gaussian_filter

from render.colour import to_linear, to_srgb
from render.draw.cover import draw_cover
from render.model import Sewn

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from render.model import Colour, Cover, Job, Window
    from render.preview import SewnDesign

    Pixels = NDArray[np.uint8]
    Fine = NDArray[np.float32]

GAP: Colour = (0.88, 0.30, 0.05)  # cloth where thread was programmed
OUT: Colour = (0.10, 0.45, 0.75)  # thread where none was programmed
LINE: Colour = (0.10, 0.11, 0.13)
GROUND: Colour = (1.0, 1.0, 1.0)
PALE = 0.62  # share of white in the areas of thread, so that what matters stands out
CLOSED_MM = 0.35  # rows so near are one area
SMOOTH_MM = 0.08
LINE_PX = 1.8


def draw_outlines(ready: SewnDesign, job: Job, window: Window) -> Pixels:
    """The window's picture (rows, cols, 3): pale thread as sewn, the programmed outline as a dark line,
    and between them what has become cloth or thread."""
    sewn = ready.sewn
    still = Sewn(sewn.plan, sewn.plan.start_mm, sewn.plan.end_mm)
    programmed, now = (
        draw_cover(one, threads=ready.threads, job=job, window=window) for one in (still, sewn)
    )
    smooth_px = max(SMOOTH_MM * window.px_per_mm, 0.7)
    page = np.zeros((window.rows, window.cols, 3), np.float32)
    thread_now = np.zeros(programmed.stitch.shape, np.float32)
    for block, share in _areas(now, sewn, smooth_px):
        page += share[..., None] * np.array(_pale(ready.threads[block].colour_srgb), np.float32)
        thread_now += share
    page += np.clip(1 - thread_now, 0, 1)[..., None] * np.array(GROUND, np.float32)
    lines, thread_then = np.zeros_like(thread_now), np.zeros_like(thread_now)
    for _, share in _areas(programmed, sewn, smooth_px, sharp=False):
        lines = np.maximum(lines, _line(share))
        thread_then += _sharp(share, smooth_px)
    for alpha, colour in (
        (np.clip(thread_then - thread_now, 0, 1), GAP),
        (np.clip(thread_now - thread_then, 0, 1), OUT),
        (lines, LINE),
    ):
        page += alpha[..., None] * (np.array(colour, np.float32) - page)
    return np.asarray(np.rint(np.clip(page, 0, 1) * 255), np.uint8)


def _areas(cover: Cover, sewn: Sewn, smooth_px: float, *, sharp: bool = True) -> Iterator[tuple[int, Fine]]:
    """For each colour block the share in [0, 1] of each pixel that its visible thread covers.

    Not `sharp`, its edge is a slope through 0.5.
    """
    label = _closed(cover, sewn)
    for block in np.unique(label[label >= 0]).tolist():
        share = gaussian_filter((label == block).astype(np.float32), smooth_px)
        yield block, _sharp(share, smooth_px) if sharp else share


def _closed(cover: Cover, sewn: Sewn) -> NDArray[np.int32]:
    """The colour block on top in each pixel, -1 for cloth; cloth between near rows counts as thread."""
    thread = cover.stitch >= 0
    if not thread.any():
        return np.full(cover.stitch.shape, -1, np.int32)
    away, nearest = distance_transform_edt(~thread, return_indices=True)
    label: NDArray[np.int32] = sewn.plan.colour_block[np.maximum(cover.stitch, 0)][tuple(nearest)].astype(
        np.int32
    )
    reach = CLOSED_MM / 2 * cover.window.px_per_mm
    inside = distance_transform_edt(np.pad(away <= reach, 1, mode="edge"))[1:-1, 1:-1] > reach
    label[~(inside | thread)] = -1
    return label


def _sharp(share: Fine, smooth_px: float) -> Fine:
    """A smoothed edge as one that is a pixel wide: it falls by 1 / (s √(2 π)) a pixel in the middle."""
    return np.asarray(np.clip((share - 0.5) * np.float32(smooth_px * np.sqrt(2 * np.pi)) + 0.5, 0, 1))


def _line(share: Fine) -> Fine:
    """How much of each pixel the line covers along which the share is 0.5."""
    slope = np.hypot(*np.gradient(share))
    return np.asarray(np.clip(0.5 + LINE_PX / 2 - np.abs(share - 0.5) / np.maximum(slope, 1e-6), 0, 1))


def _pale(colour: Colour) -> Colour:
    linear = to_linear(np.array(colour))
    red, green, blue = to_srgb(linear + PALE * (1 - linear)).tolist()
    return red, green, blue
