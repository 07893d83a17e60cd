"""Rows of pixels, or of blocks of two by two sub-pixels, many at a time: thread on cloth, pressed cloth."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numba import njit

from render.draw.apart import Apart

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float32]
    Wholes = NDArray[np.int32]
    Line = NDArray[np.float64]
    Cells = NDArray[np.int64]

STEPS = 16384.0  # of a height in a mm, whole ones, so that sums are the same in any order
NEVER = np.float32(-1e30)  # height of cloth that is not seen
_f = np.float32
FLATTENS = 2.2  # share of its relief that cloth loses a mm that it is pressed down (estimate)


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def pressed_level(relief: Any, pressed: Any) -> Any:
    """Height of pressed cloth: stitching flattens the relief under it as far as it presses."""
    return relief * max(1.0 - FLATTENS * pressed, 0.25) - pressed


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def want_row(
    top: Floats, low: Floats, side: int, highest_mm: float, line: Line, cell: Cells, share: Line, seen: Wholes
) -> None:
    """1 for each block in which cloth may show that rises to `highest_mm`, see `cloth_wanted`. A block is
    `side` sub-pixels wide; cloth is pressed down as `line` says, read between cells."""
    for c in range(len(seen)):
        left, right = np.uintp(side * c), np.uintp(side * c + side - 1)
        least = min(min(top[left], top[right]), min(low[left], low[right]))
        k = np.uintp(cell[c])
        pressed = line[k] + (line[k + np.uintp(1)] - line[k]) * share[c]
        # A little more than `merge_row` may make of it.
        seen[c] = least < pressed_level(highest_mm, pressed) + 1e-6


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def share_out(seen: Wholes, half: int, wanted: NDArray[np.bool_]) -> None:
    """Want the pixels, `half` blocks wide, of which some block is seen."""
    if half == 1:
        for c in range(len(seen)):
            wanted[c] |= seen[c] > 0
        return
    for pixel in range(len(wanted)):
        for c in range(pixel * half, (pixel + 1) * half):
            wanted[pixel] |= seen[c] > 0


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def level_row(
    cloth_mm: Floats,
    wanted: NDArray[np.bool_],
    pixel: Wholes,
    line: Line,
    cell: Cells,
    share: Line,
    open_mm: Floats,
    level: Floats,
) -> None:
    """Height of the cloth in each block; `pixel` is the block's, `open_mm` room for a row of pixels."""
    for c in range(len(wanted)):
        open_mm[c] = cloth_mm[c] if wanted[c] else NEVER
    for c in range(len(level)):
        k = np.uintp(cell[c])
        pressed = line[k] * (1.0 - share[c]) + line[k + np.uintp(1)] * share[c]
        level[c] = _f(pressed_level(open_mm[np.uintp(pixel[c])], pressed))


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def merge_row(
    top: Floats,
    low: Floats,
    top_name: Wholes,
    low_name: Wholes,
    level: Floats,
    block_mm: Floats,
    upper_mm: Floats,
    lower_mm: Floats,
    bare: Wholes,
) -> None:
    """Thread and cloth together in each block of a row, see `merge_blocks`."""
    for c in range(len(level)):
        at, after, cloth = np.uintp(2 * c), np.uintp(2 * c + 1), level[c]
        a, i = _higher(cloth, top[at], top_name[at])
        b, j = _higher(cloth, top[after], top_name[after])
        d, m = _higher(cloth, low[at], low_name[at])
        e, n = _higher(cloth, low[after], low_name[after])
        top[at], top[after], low[at], low[after] = a, b, d, e
        top_name[at], top_name[after], low_name[at], low_name[after] = i, j, m, n
        best, name = _better(a, i, b, j)
        best, name = _better(best, name, d, m)
        best, name = _better(best, name, e, n)
        own_a, own_b, own_d, own_e = _own(a, i, name), _own(b, j, name), _own(d, m, name), _own(e, n, name)
        many = _f(i == name) + _f(j == name) + _f(m == name) + _f(n == name)
        total = _whole(a) + _whole(b) + _whole(d) + _whole(e)
        own = own_a + own_b + own_d + own_e
        upper = own / (_f(STEPS) * many)
        others = (total - own) / (_f(STEPS) * max(_f(4.0) - many, _f(1.0)))
        block_mm[c], upper_mm[c] = total * _f(0.25 / STEPS), upper
        lower_mm[c] = others if many < _f(4.0) else upper
        bare[c] = np.int32(-1) if (name < 0) & (many == _f(4.0)) else np.int32(0)


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _higher(cloth: Any, height: Any, name: Any) -> tuple[Any, Any]:
    """What of cloth and thread is seen."""
    seen = cloth > height
    return cloth if seen else height, np.int32(-1) if seen else name


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _better(one: Any, name: Any, other: Any, its: Any) -> tuple[Any, Any]:
    """The higher of two, of level ones the later."""
    better = (other > one) | ((other == one) & (its > name))
    return other if better else one, its if better else name


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _whole(height: Any) -> Any:
    return np.rint(height * _f(STEPS))


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _own(height: Any, its: Any, name: Any) -> Any:
    return _whole(height) if its == name else _f(0.0)


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def slope_row(
    level: Line,
    above: Line,
    below: Line,
    cell: Cells,
    share: Line,
    right: float,
    down: float,
    key_share: float,
    wanted: NDArray[np.bool_],
    out: Floats,
) -> None:
    """Light on each wanted pixel of a row where a map is read `level`, a cell `above` and `below` it, by how
    much of its slope `right` and `down` faces the lamp; 1 elsewhere."""
    for c in range(len(out)):
        u = share[c]
        k = np.uintp(cell[c])
        one, two = k + np.uintp(1), k + np.uintp(2)
        across = (level[one] - level[k - np.uintp(1)]) * (1.0 - u) + (level[two] - level[k]) * u
        along = (below[k] - above[k]) * (1.0 - u) + (below[one] - above[one]) * u
        facing = across * right + along * down
        out[c] = _f(1.0 + key_share * min(max(facing, -0.8), 0.8)) if wanted[c] else _f(1.0)


@njit(cache=True, nogil=True, error_model="numpy")
def pressed_cloth(radiance: Floats, halo: int, pressed: Floats) -> Floats:
    """The light (rows, cols, 3) of cloth that lies `halo` pixels within what is laid, as it is `pressed`."""
    rows, cols = pressed.shape
    out = np.empty((rows, cols, 3), np.float32)
    for r in range(rows):
        for c in range(cols):
            for k in range(3):
                out[r, c, k] = radiance[r + halo, c + halo, k] * pressed[r, c]
    return out
