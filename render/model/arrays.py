"""Colours, and the check that every record of arrays makes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.integer[Any]]


Colour = tuple[float, float, float]


def freeze(record: object, **arrays: tuple[int, ...]) -> None:
    """Check the shape of each named array (-1 = any) and make it read-only.

    Raises ValueError when a shape differs or a float array holds a value that is not finite.
    """
    lock(record, **arrays)
    for name in arrays:
        array = getattr(record, name)
        if array.dtype.kind == "f" and not _all_finite(array):
            raise ValueError(f"{type(record).__name__}.{name} holds a value that is not finite")


def lock(record: object, **arrays: tuple[int, ...]) -> None:
    """As `freeze`, but without looking through the values: for what is finite by the way it is made."""
    for name, shape in arrays.items():
        array = getattr(record, name)
        if array.ndim != len(shape) or any(
            want not in (-1, have) for want, have in zip(shape, array.shape, strict=True)
        ):
            raise ValueError(f"{type(record).__name__}.{name} has shape {array.shape}, expected {shape}")
        array.flags.writeable = False


def _all_finite(array: NDArray[Any]) -> bool:
    """Whether no value is infinite or not a number: their sum then is neither, and is soon told."""
    import numpy as np

    with np.errstate(over="ignore", invalid="ignore"):
        total = array.sum()
    return bool(np.isfinite(total) or np.isfinite(array).all())
