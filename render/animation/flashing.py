"""No film may flash: more than three times a second over a good part of what is looked at.

WCAG 2.2, success criterion 2.3.1 and its definition of general flash: a pair of opposing changes of
relative luminance of 10 % or more of the largest, where the darker is below 0.80, more than three within a
second, and together over more than a quarter of any 10 degree field of view; for a picture of
1024 x 768 on a screen that field is taken as 341 x 256 pixels.
"""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING

import numpy as np
from scipy.ndimage import uniform_filter

from render.colour import to_linear
from render.errors import UsageError

if TYPE_CHECKING:
    from numpy.typing import NDArray

STEP, DARKER_BELOW, MOST_A_SECOND = 0.10, 0.80, 3
FIELD_SHARE = 341 / 1024  # of the picture's longer side: a field of view, shown as large as a screen
AREA_SHARE = 0.25
GRID = 64  # samples along the picture's longer side
_LUMINANCE = np.array([0.2126, 0.7152, 0.0722])  # of linear sRGB (IEC 61966-2-1)


class FlashWatch:
    """Watches the frames of a film go by; raises UsageError where it flashes."""

    def __init__(self, fps: float) -> None:
        self.fps, self.frame = fps, 0
        self._extreme: NDArray[np.float64] | None = None
        self._rising: NDArray[np.int8] = np.zeros(0, np.int8)
        self._changes: deque[tuple[int, NDArray[np.bool_]]] = deque()

    def see(self, pixels: NDArray[np.uint8]) -> None:
        """The next frame (rows, cols, 3)."""
        step = max(max(pixels.shape[:2]) // GRID, 1)
        light = to_linear(pixels[step // 2 :: step, step // 2 :: step] / np.float32(255.0)) @ _LUMINANCE
        self.frame += 1
        if self._extreme is None:
            self._extreme, self._rising = light, np.zeros(light.shape, np.int8)
            return
        turned = self._turns(light)
        if turned.any():
            self._changes.append((self.frame, turned))
        while self._changes and self._changes[0][0] <= self.frame - self.fps:
            self._changes.popleft()
        # A flash is a pair of changes.
        often = sum((turn.astype(np.int64) for _, turn in self._changes), np.zeros(light.shape, np.int64))
        flashing = often >= 2 * (MOST_A_SECOND + 1)
        if flashing.any() and self._crowded(flashing):
            raise UsageError(
                f"at {self.frame / self.fps:.1f} s the film would flash more than {MOST_A_SECOND} times a "
                "second, which can bring on a seizure: run it slower, with a higher --seconds"
            )

    def _turns(self, light: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Where the light has changed enough against the way it went before."""
        assert self._extreme is not None
        change = light - self._extreme
        darker = np.minimum(light, self._extreme) < DARKER_BELOW
        far = (np.abs(change) >= STEP) & darker
        way = np.sign(change).astype(np.int8)
        turned: NDArray[np.bool_] = far & (way != self._rising)
        # The light that a change counts from: the extreme since the last one.
        onward = (way == self._rising) | far | (self._rising == 0) & (np.abs(change) >= STEP)
        self._extreme = np.where(onward, light, self._extreme)
        self._rising = np.where(far, way, self._rising).astype(np.int8)
        return turned

    @staticmethod
    def _crowded(flashing: NDArray[np.bool_]) -> bool:
        """Whether any field of view flashes over more than its share."""
        side = max(1, round(FIELD_SHARE * max(flashing.shape)))
        wide, high = (side, max(1, round(side * 256 / 341)))
        share = uniform_filter(flashing.astype(np.float64), (high, wide), mode="constant")
        return bool(share.max() > AREA_SHARE)
