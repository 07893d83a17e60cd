"""Texels of cloth packed for reading many at a time: two of a texel's numbers in one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from render.apart import Apart
from render.compiled import njit
from render.model import freeze

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float32]
    Wholes = NDArray[np.int32]

FULL = 32767.0  # steps of a packed texel's numbers between 0 and the most there is
_f = np.float32
_i = np.int32


@dataclass(frozen=True, slots=True, eq=False)
class Packed:
    """A tile of light and height for reading many texels at a time: two of a texel's numbers in one.

    `texels` (R + 1, C + 1, 2), the first row and column again at the end; red below green, blue below height,
    in steps of `step` (2,) of light and of mm.
    """

    texels: NDArray[np.int32]
    step: NDArray[np.float32]

    def __post_init__(self) -> None:
        freeze(self, texels=(-1, -1, 2), step=(2,))

    @property
    def planes(self) -> Floats:
        """A tile (R, C, 0) of that size without planes: they are packed."""
        rows, cols, _ = self.texels.shape
        return np.empty((rows - 1, cols - 1, 0), np.float32)


def packed(texels: Floats) -> Packed:
    """Of `texels` (R, C, 4)."""
    texels = np.ascontiguousarray(texels, np.float32)
    most = np.full(4, 1e-9, np.float32)
    find_most(texels, most)
    step = np.array([most[:3].max(), most[3]], np.float32) / np.float32(FULL)
    out = np.empty((texels.shape[0] + 1, texels.shape[1] + 1, 2), np.int32)
    pack(texels, np.float32(1.0) / step, out)
    out[-1], out[:, -1] = out[0], out[:, 0]
    out[-1, -1] = out[0, 0]
    return Packed(out, step)


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def find_most(texels: Floats, most: Floats) -> None:
    """Raise the four numbers of `most` to the farthest from 0 of each plane."""
    flat = texels.reshape(-1)
    one, two, three, four = most
    for n in range(len(flat) // 4):
        at = np.uintp(4 * n)
        one, two = max(one, abs(flat[at])), max(two, abs(flat[at + np.uintp(1)]))
        three, four = max(three, abs(flat[at + np.uintp(2)])), max(four, abs(flat[at + np.uintp(3)]))
    most[0], most[1], most[2], most[3] = one, two, three, four


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def pack(texels: Floats, per: Floats, out: Wholes) -> None:
    """Fill all but the last row and column of `out`, see `Packed`; `per` is one over its step."""
    rows, cols, _ = texels.shape
    flat, made = texels.reshape(-1), out.reshape(-1)
    light, mm = per
    for r in range(rows):
        for c in range(cols):
            at, to = np.uintp(4 * (r * cols + c)), np.uintp(2 * (r * (cols + 1) + c))
            red, green = _i(np.rint(flat[at] * light)), _i(np.rint(flat[at + np.uintp(1)] * light))
            blue, level = (
                _i(np.rint(flat[at + np.uintp(2)] * light)),
                _i(np.rint(flat[at + np.uintp(3)] * mm)),
            )
            made[to], made[to + np.uintp(1)] = _joined(red, green), _joined(blue, level)


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _joined(low: Any, high: Any) -> Any:
    return _i((low & _i(0xFFFF)) | _i(high << 16))


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def low_of(two: Any) -> Any:
    """The lower of two numbers in one."""
    return _f(_i(two << 16) >> 16)


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def high_of(two: Any) -> Any:
    """The upper of two numbers in one."""
    return _f(two >> 16)
