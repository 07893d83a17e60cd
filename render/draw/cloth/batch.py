"""The pixels of a row that are laid at once, and where they lie on the cloth.

What is known of them lies in rows of `BATCH` numbers of one array, as in `render.draw.lit_thread`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from render.apart import Apart
from render.compiled import njit
from render.draw.cloth.lattice import KNOWN

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float32]
    Places = NDArray[np.floating[Any]]
    Wholes = NDArray[np.int32]

BATCH = 512
# What a place shows of the tile: one corner's share always, sometimes those of two more.
SEEN = 3 * BATCH
# Rows of numbers: the place on the cloth in mm, its lightness, shares of its second and third corner; of all
# that is seen its share, and what comes of it, RGB and height.
U, V, GAIN, SECOND, THIRD = (BATCH * row for row in range(5))
SHARE, RED, GREEN, BLUE, LEVEL, NUMBERS = (5 * BATCH + SEEN * row for row in range(6))
# And of whole numbers: the place in steps of 1/65536 texel, shifts of its second and third corner; of all
# that is seen its column in the rectangle, its place in the tile, the texel there and four texels as columns.
AT_X, AT_Y, TWO, THREE = (BATCH * row for row in range(4))
COLUMN, X, Y, TEXEL, TEXELS, NAMES = (4 * BATCH + SEEN * row for row in (0, 1, 2, 3, 4, 12))
# Until places in the tile are known their rows hold the yarns before a place, along y and along x, and the
# shift of its first corner; rows of light how far each is eased into the next.
UPRIGHT, ALONG, ONE, TO_UPRIGHT, TO_ALONG = X, Y, X + BATCH, RED, GREEN


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def choose(wanted: NDArray[np.bool_], begin: int, names: Wholes) -> tuple[int, int]:
    """The wanted columns from `begin` on, as many as make a batch, and where the next one begins."""
    count = 0
    while begin < len(wanted) and count < BATCH:
        names[COLUMN + count] = begin
        count += wanted[begin]
        begin += 1
    return count, begin


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def go(
    count: int,
    names: Wholes,
    numbers: Floats,
    x_mm: Places,
    y_mm: float,
    axes: Places,
    line: Places,
    cell: NDArray[np.int64],
    share: Places,
    scale: Places,
    size: Places,
) -> None:
    """Where on the cloth the chosen columns lie, mm and in the tile, and how light it is there; `line` is
    what is known of places in this row, the numbers of `lattice.KNOWN` of one after the other.

    Only here, where the place in the tile asks for it, is more than single precision.
    """
    for j in range(count):
        c = np.uintp(names[COLUMN + j])
        k, w, x = np.uintp(KNOWN * cell[c]), share[c], x_mm[c]
        two, three = k + np.uintp(1), k + np.uintp(2)
        right = line[k] + (line[k + np.uintp(KNOWN)] - line[k]) * w
        down = line[two] + (line[two + np.uintp(KNOWN)] - line[two]) * w
        u, v = axes[0, 0] * x + axes[0, 1] * y_mm + right, axes[1, 0] * x + axes[1, 1] * y_mm + down
        numbers[GAIN + j] = line[three] + (line[three + np.uintp(KNOWN)] - line[three]) * w
        numbers[U + j], numbers[V + j] = u, v
        names[AT_X + j], names[AT_Y + j] = _within(u * scale[0], size[0]), _within(v * scale[1], size[1])


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _within(texel: Any, size: Any) -> Any:
    """A place in steps of 1/65536 texel, within the tile."""
    at = np.floor((texel - 0.5) * 65536.0 + 0.5)
    at -= np.floor(at * (1.0 / size)) * size
    at += size if at < 0.0 else 0.0
    return np.int32(at - size if at >= size else at)


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def mix_rows(above: Places, below: Places, share: float, line: Places) -> None:
    """Fill `line` with what lies between two rows."""
    for k in range(len(line)):
        line[k] = above[k] + (below[k] - above[k]) * share
