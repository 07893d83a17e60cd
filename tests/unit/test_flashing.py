"""What flashes more than published limits allow is refused."""

from __future__ import annotations

import numpy as np
import pytest

from render.animation.flashing import FlashWatch
from render.errors import UsageError


def flashing(cycles_a_second: float, level: tuple[int, int], share: float, *, seconds: float = 3.0) -> bool:
    watch, fps = FlashWatch(30.0), 30.0
    picture = np.full((192, 256, 3), level[0], np.uint8)
    side = round(192 * share**0.5), round(256 * share**0.5)
    for frame in range(round(seconds * fps)):
        on = int(2 * cycles_a_second * frame / fps) % 2
        picture[: side[0], : side[1]] = level[on]
        try:
            watch.see(picture)
        except UsageError:
            return True
    return False


# WCAG 2.2, definition of general flash and red flash thresholds, and success criterion 2.3.1.
@pytest.mark.parametrize(
    ("cycles_a_second", "level", "share", "flashes"),
    [
        (5.0, (0, 255), 0.5, True),
        (2.9, (0, 255), 0.5, False),  # three a second are allowed
        (5.0, (0, 60), 0.5, False),  # relative luminance 0.045: below 10 %
        (5.0, (0, 120), 0.5, True),  # 0.19
        (5.0, (235, 255), 0.5, False),  # the darker is 0.83: not below 0.80
        (5.0, (0, 255), 0.02, False),  # a fifth of a field of 341 x 256 in 1024 x 768
        (5.0, (0, 255), 0.06, True),  # more than half of it
    ],
)
def test_flashing_is_told_by_the_published_limits(
    cycles_a_second: float, level: tuple[int, int], share: float, flashes: bool
) -> None:
    assert flashing(cycles_a_second, level, share) is flashes


def test_a_slow_drift_is_no_flash() -> None:
    watch = FlashWatch(30.0)
    for frame in range(90):
        watch.see(np.full((60, 80, 3), frame * 2, np.uint8))
