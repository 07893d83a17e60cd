"""What a dye leaves of light, as `dyed` of `lobes` says, without the slow power of the library."""

from __future__ import annotations

from math import factorial
from typing import TYPE_CHECKING, Any

import numpy as np

from render.compiled import njit

if TYPE_CHECKING:
    from numpy.typing import NDArray

_f = np.float32
MOST_HALVINGS = 63
AGAIN = 0.5  # of a dye's albedo: what threads throw back of the light that neighbours send them (estimate)
# Taylor's for 2 ** x from -1/2 to 1/2: wrong by at most 2.5e-6 of it.
C1, C2, C3, C4, C5 = (np.float32(np.log(2.0) ** k / factorial(k)) for k in range(1, 6))


@njit(cache=True, nogil=True)
def dye_powers(albedo: NDArray[np.float32]) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Of each albedo (N, 3) its logarithm to the base 2 and what `dye_left` is to be multiplied by: one
    above 1 stands for light that neighbours send on, once."""
    logs, lift = np.zeros(albedo.shape, np.float32), np.ones(albedo.shape, np.float32)
    for t in range(albedo.shape[0]):
        for c in range(albedo.shape[1]):
            if albedo[t, c] < 1.0:
                logs[t, c] = np.log2(max(albedo[t, c], _f(1e-30)))
            else:
                lift[t, c] = albedo[t, c]
    return logs, lift


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def dye_left(log: Any, depth: Any) -> Any:
    """What a dye, by the logarithm of its albedo, leaves of light that passes it `depth` times."""
    power = max(log * depth, _f(-MOST_HALVINGS))
    whole = np.rint(power)
    x = power - whole
    part = _f(1.0) + x * (C1 + x * (C2 + x * (C3 + x * (C4 + x * C5))))
    # The whole part makes the exponent of a number (IEEE 754).
    return part * np.int32((np.int32(whole) + 127) << 23).view(np.float32)


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def tinted(by_key: Any, by_rest: Any, albedo: Any, key: Any, sky: Any) -> Any:
    """Light that the dye has left: what is blocked reaches it by way of its neighbours, tinted once more.

    Such shares of the key lamp's light and of all else reach the thread.
    """
    by_lamp, around = bounced(key, sky, _f(AGAIN) * albedo)
    return by_key * by_lamp + by_rest * around


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def bounced(key: Any, sky: Any, again: Any) -> tuple[Any, Any]:
    """Light of the key lamp and of all else in a place that sees such shares of them, of what it has in the
    open: what is blocked comes by way of what blocks it, which throws back `again` of its own light.

    All orders of a cavity whose walls are lit alike sum up to sky / (1 - again (1 - sky)). A place in
    shadow, from which the lamp itself is not seen, still sees walls that are lit by what comes in.
    """
    one = _f(1.0)
    around = sky / (one - again * (one - sky))
    by_lamp = key / (one - again * (one - key))
    return by_lamp + (one - by_lamp) * (one - key) * again * (one - sky) * around, around


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def body_light(
    t: Any,
    channel: int,
    by_key: Any,
    by_rest: Any,
    deep: Any,
    deeper: Any,
    dye: NDArray[np.float32],
    logs: NDArray[np.float32],
    lift: NDArray[np.float32],
    key: Any,
    sky: Any,
) -> Any:
    """One channel of the light from within thread t, of what an undyed one would send."""
    by_key *= lift[t, channel] * dye_left(logs[t, channel], deep)
    by_rest = by_rest * lift[t, channel] * dye_left(logs[t, channel], deeper)
    return tinted(by_key, by_rest, dye[t, channel], key, sky)
