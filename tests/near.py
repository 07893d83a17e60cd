"""Large arrays against each other, as `pytest.approx` has it, which takes them number by number."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike


def assert_near(actual: ArrayLike, expected: Any, *, rel: float = 0.0, abs: float = 0.0) -> None:
    """No number is further off than the larger of `rel` of what is expected and `abs`."""
    have, want = np.asarray(actual, float), np.asarray(expected, float)
    assert not want.ndim or have.shape == want.shape
    off = np.abs(have - want) - np.maximum(rel * np.abs(want), abs)
    # Not the other way round: what is no number is not near.
    assert (off <= 0.0).all(), f"{(~(off <= 0.0)).sum()} of {off.size} are too far off, by up to {off.max()}"
