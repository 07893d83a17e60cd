"""What a block of two by two sub-pixels shows, as bits of one number: told without branches, which no
processor could foresee where threads end."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from render.compiled import njit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Wholes = NDArray[np.int32]

# A set of a block's sub-pixels, a bit each: upper left and right, lower left and right. In one number lie the
# four that show the threads of those, each told by its first and else empty; from `HIGHEST` on the sub-pixels
# that are as high as any, from `OPEN` on those that show cloth. It is below 0 where all four do.
SET, HIGHEST, OPEN = 4, 16, 20
ALL = 15
MIXED = 0xFFF0  # sets that are empty where a block shows one thread, or none
CLOTH = ALL << OPEN
_i = np.int32
NOTHING_BUT_CLOTH = _i(-(2**31))


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def told(a: Any, b: Any, d: Any, e: Any, one: Any, two: Any, three: Any, four: Any) -> Any:
    """All sets of a block whose sub-pixels show these strands, -1 for cloth, at these heights."""
    none = _i(0)
    first = _bits(True, b == a, d == a, e == a) if a >= none else none
    second = _bits(False, True, d == b, e == b) if (b >= none) & (b != a) else none
    third = _bits(False, False, True, e == d) if (d >= none) & (d != a) & (d != b) else none
    fourth = _i(8) if (e >= none) & (e != a) & (e != b) & (e != d) else none
    most = max(max(one, two), max(three, four))
    highest = _bits(one == most, two == most, three == most, four == most)
    cloth = _bits(a < none, b < none, d < none, e < none)
    shown = _i(first | second << _i(SET)) | _i(third << _i(2 * SET) | fourth << _i(3 * SET))
    bare = NOTHING_BUT_CLOTH if cloth == _i(ALL) else none
    return _i(_i(shown | bare) | _i(highest << _i(HIGHEST) | cloth << _i(OPEN)))


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _bits(one: Any, two: Any, three: Any, four: Any) -> Any:
    """A set, by which sub-pixels are in it."""
    none = _i(0)
    upper = _i((_i(1) if one else none) | (_i(2) if two else none))
    return _i(upper | _i((_i(4) if three else none) | (_i(8) if four else none)))


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def many_in(part: Any) -> Any:
    """How many sub-pixels are in a set."""
    two = _i(_i(part & _i(5)) + _i(_i(part >> _i(1)) & _i(5)))
    return _i(_i(two & _i(3)) + _i(two >> _i(2)))


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def any_cloth(sets: Wholes, begin: int, stop: int) -> Any:
    """Whether any of these blocks shows some cloth."""
    some = _i(0)
    for c in range(begin, stop):
        some |= sets[np.uintp(c)]
    return (some & _i(CLOTH)) != 0
