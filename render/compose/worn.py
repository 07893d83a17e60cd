"""A cap's front as it is worn: what was sewn flat on the frame, seen from the front on its curve."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.errors import UsageError
from render.model import Layers, Window

if TYPE_CHECKING:
    from numpy.typing import NDArray

CAP_RADIUS_MM = 88.0  # of a structured front above the brim (estimate)
TURNED_AWAY = 0.6  # of the light that depends on facing the viewer's side (estimate)
FURTHEST_DEG = 80.0


def worn_layers(layers: Layers, window: Window, radius_mm: float = CAP_RADIUS_MM) -> tuple[Layers, Window]:
    """The layers on an upright cylinder around the window's middle, and the window that shows them.

    A point so far along the curve from the middle is seen at r sin(s / r); the design's true
    width is that along the curve. Cloth that turns away gets darker. Raises UsageError for a picture
    that reaches round to the side.
    """
    half_mm = window.cols / window.px_per_mm / 2
    if half_mm / radius_mm > np.deg2rad(FURTHEST_DEG):
        raise UsageError(
            f"{2 * half_mm:.0f} mm of picture reach round to the cap's side: show less with --margin-mm or "
            "--crop-hoop"
        )
    cols = max(1, int(2 * radius_mm * np.sin(half_mm / radius_mm) * window.px_per_mm))
    seen_mm = (np.arange(cols) + 0.5 - cols / 2) / window.px_per_mm
    angle = np.arcsin(seen_mm / radius_mm)
    place = radius_mm * angle * window.px_per_mm + window.cols / 2 - 0.5
    light = (1.0 - TURNED_AWAY * (1.0 - np.cos(angle))).astype(np.float32)
    # Under thread no cloth is drawn, so what is seen of it is moved, not the cloth alone.
    share = _across(layers.cloth_share, place)
    seen = _across(layers.cloth_linear * layers.cloth_share[..., None], place)
    worn = Layers(
        _across(layers.thread_linear, place) * light[:, None],
        seen / np.maximum(share, 1e-6)[..., None] * light[:, None],
        share,
        _across(layers.covered, place),
    )
    return worn, Window(window.centre_mm, window.px_per_mm, window.rows, cols)


def _across(layer: NDArray[np.float32], place: NDArray[np.float64]) -> NDArray[np.float32]:
    """The layer's columns at places between them."""
    last = layer.shape[1] - 1
    left = np.clip(np.floor(place).astype(int), 0, max(last - 1, 0))
    share = np.clip(place - left, 0.0, 1.0).astype(np.float32)
    if layer.ndim == 3:
        share = share[:, None]
    right = np.minimum(left + 1, last)
    return np.asarray(layer[:, left] * (1 - share) + layer[:, right] * share, np.float32)
