"""Rows of pixels, or of blocks of two by two sub-pixels, many at a time: thread on cloth, pressed cloth."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from render.apart import Apart, Lent
from render.compiled import njit
from render.draw.mapped import mixed
from render.draw.reach import in_steps
from render.draw.sets import CLOTH, any_cloth, told

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float32]
    Shorts = NDArray[np.int16]
    Wholes = NDArray[np.int32]

STEPS = 16384.0  # of a height in a mm, whole ones, so that sums are the same in any order
NEVER = np.float32(-1e30)  # height of cloth that is not seen
SPAN = 64  # pixels of a row that are skipped together where none of them is asked for
_f = np.float32
FLATTENS = 2.2  # share of its relief that cloth loses a mm that it is pressed down (estimate)


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def pressed_level(relief: Any, pressed: Any) -> Any:
    """Height of pressed cloth: stitching flattens the relief under it as far as it presses."""
    return relief * max(_f(1.0) - _f(FLATTENS) * pressed, _f(0.25)) - pressed


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def want_row(
    top: Floats,
    low: Floats,
    side: int,
    highest_mm: float,
    line: Floats,
    cell: Wholes,
    share: Floats,
    seen: Wholes,
) -> None:
    """1 for each block in which cloth may show that rises to `highest_mm`, see `cloth_wanted`. A block is
    `side` sub-pixels wide; cloth is pressed down as `line` says, read between cells."""
    for c in range(len(seen)):
        left, right = np.uintp(side * c), np.uintp(side * c + side - 1)
        least = min(min(top[left], top[right]), min(low[left], low[right]))
        k = np.uintp(cell[c])
        pressed = mixed(line[k], line[k + np.uintp(1)], share[c])
        # A little more than `merge_row` may make of it.
        seen[c] = least < pressed_level(_f(highest_mm), pressed) + _f(1e-6)


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
    line: Floats,
    cell: Wholes,
    share: Floats,
    open_mm: Floats,
    level: Floats,
) -> None:
    """Height of the cloth in each block; `pixel` is the block's, `open_mm` room for a row of pixels."""
    for c in range(len(wanted)):
        open_mm[c] = cloth_mm[c] if wanted[c] else NEVER
    for c in range(len(level)):
        k = np.uintp(cell[c])
        pressed = mixed(line[k], line[k + np.uintp(1)], share[c])
        level[c] = pressed_level(open_mm[np.uintp(pixel[c])], pressed)


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def merge_row(
    top: Floats,
    low: Floats,
    top_name: Wholes,
    low_name: Wholes,
    level: Floats,
    upper: Shorts,
    lower: Shorts,
    mean: Shorts,
    bare: Shorts,
    sets: Wholes,
) -> None:
    """Thread and cloth together in each block of a row, see `merge_blocks`."""
    for c in range(len(level)):
        at, after, cloth = np.uintp(2 * c), np.uintp(2 * c + 1), level[c]
        a, i = _higher(cloth, top[at], top_name[at])
        b, j = _higher(cloth, top[after], top_name[after])
        d, m = _higher(cloth, low[at], low_name[at])
        e, n = _higher(cloth, low[after], low_name[after])
        top_name[at], top_name[after], low_name[at], low_name[after] = i, j, m, n
        best, name = _better(a, i, b, j)
        best, name = _better(best, name, d, m)
        best, name = _better(best, name, e, n)
        own_a, own_b, own_d, own_e = _own(a, i, name), _own(b, j, name), _own(d, m, name), _own(e, n, name)
        many = _f(i == name) + _f(j == name) + _f(m == name) + _f(n == name)
        total = _whole(a) + _whole(b) + _whole(d) + _whole(e)
        own = own_a + own_b + own_d + own_e
        highest = in_steps(own / (_f(STEPS) * many))
        others = in_steps((total - own) / (_f(STEPS) * max(_f(4.0) - many, _f(1.0))))
        upper[c], lower[c] = highest, others if many < _f(4.0) else highest
        mean[c], shows = in_steps(total * _f(0.25 / STEPS)), told(i, j, m, n, a, b, d, e)
        bare[c], sets[c] = np.int16(shows >> np.int32(31)), shows


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
def choose(wanted: NDArray[np.bool_], chosen: Wholes) -> int:
    """Note the wanted columns, and say how many."""
    count = 0
    for c in range(len(wanted)):
        chosen[count] = c
        count += wanted[c]
    return count


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def slope_row(level: Floats, above: Floats, below: Floats, across: Floats, down: Floats) -> None:
    """Fill in by how much cells rise from the one before to the one after, both ways, all but the ends."""
    for k in range(len(level) - 2):
        before, here = np.uintp(k), np.uintp(k + 1)
        across[here] = level[np.uintp(k + 2)] - level[before]
        down[here] = below[here] - above[here]


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def depth_row(level: Floats, above: Floats, below: Floats, far: int, deep: Floats) -> None:
    """Fill in how much deeper cells lie than those so `far` to either side, `above` and `below`; `level`
    reaches so far beyond them."""
    for k in range(len(deep)):
        left, here, right = np.uintp(k), np.uintp(k + far), np.uintp(k + 2 * far)
        # Opposite sides are added first: the same sum, however the map is turned.
        around = (level[left] + level[right]) + (above[left] + below[left])
        deep[left] = level[here] - _f(0.25) * around


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def dimple_row(
    count: int,
    chosen: Wholes,
    level: Floats,
    across: Floats,
    down: Floats,
    cell: Wholes,
    share: Floats,
    towards: NDArray[np.float64],
    key_share: float,
    hollow: tuple[float, float],
    out: Floats,
) -> None:
    """Add to each of so many `chosen` pixels of a row what slopes `across` and `down`, read between cells,
    catch of a lamp that is so far `towards` either, where cloth is pressed down to a `level`. A hollow keeps
    light, so much a mm up to so many mm; one that is deeper keeps less, and none from twice that on."""
    per_mm, most = _f(hollow[0]), _f(hollow[1])
    right, below = _f(towards[0]), _f(towards[1])
    for j in range(count):
        c = np.uintp(chosen[j])
        k, u = np.uintp(cell[c]), share[c]
        depth = mixed(level[k], level[k + np.uintp(1)], u)
        deep = max(min(depth, _f(2.0) * most - depth), _f(0.0))
        light = out[c] + _caught(across, down, k, u, right, below, _f(key_share))
        out[c] = light / (_f(1.0) + per_mm * deep)


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _caught(across: Floats, down: Floats, k: Any, u: Any, right: Any, below: Any, key_share: Any) -> Any:
    """What slopes after cell k catch of a lamp that stands so far to the `right` and `below`."""
    after = k + np.uintp(1)
    facing = mixed(across[k], across[after], u) * right + mixed(down[k], down[after], u) * below
    return key_share * min(max(facing, _f(-0.8)), _f(0.8))


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def pit_row(
    sets: Wholes,
    deep: Floats,
    cell: Wholes,
    share: Floats,
    wide_mm: float,
    lit: Floats,
    lit_low: Floats,
    sky: Floats,
    sky_low: Floats,
) -> None:
    """Leave as much of the light as pits that are so `deep`, read between cells, do: in blocks of cloth, and
    of what lies lower in those that show some."""
    per_mm = _f(1.0 / wide_mm)
    for begin in range(0, len(lit), SPAN):
        stop = min(begin + SPAN, len(lit))
        if not any_cloth(sets, begin, stop):
            continue
        for c in range(begin, stop):
            at = np.uintp(c)
            k = np.uintp(cell[at])
            pit = max(mixed(deep[k], deep[k + np.uintp(1)], share[at]), _f(0.0)) * per_mm
            left = _f(1.0) / (_f(1.0) + pit * pit)
            upper = left if sets[at] < 0 else _f(1.0)
            lower = left if (sets[at] & np.int32(CLOTH)) != 0 else _f(1.0)
            lit[at] *= upper
            sky[at] *= upper
            # Thread beside a pit stands higher than the cloth in it.
            lit_low[at] *= lower
            sky_low[at] *= lower


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Lent)
def press_onto(radiance: Floats, halo: int, begin: int, pressed: Floats, out: Floats) -> None:
    """Fill rows of `out` (rows, cols, 3), from `begin` on, with the light of cloth as it is `pressed`; that
    lies `halo` pixels within what is laid."""
    for r in range(len(pressed)):
        level = radiance[begin + r + halo].reshape(-1)[3 * halo :]
        pressed_row(level, pressed[r], out[begin + r].reshape(-1))


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def pressed_row(radiance: Floats, pressed: Floats, out: Floats) -> None:
    """The same of a row, RGB one after the other."""
    for c in range(len(pressed)):
        red, share = np.uintp(3 * c), pressed[c]
        green, blue = red + np.uintp(1), red + np.uintp(2)
        out[red], out[green], out[blue] = (
            radiance[red] * share,
            radiance[green] * share,
            radiance[blue] * share,
        )
