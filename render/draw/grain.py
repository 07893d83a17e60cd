"""Randomness that belongs to a place or a stitch, not to the order of drawing.

Every irregularity is a hash of (seed, index), so crops, tiles and threads agree.
The mixing function is the 32-bit finaliser of MurmurHash3 (Appleby, public domain).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from render.compiled import njit

if TYPE_CHECKING:
    from numpy.typing import NDArray


@njit(cache=True, nogil=True, inline="always")
def mix32(word: int) -> int:
    """Scramble a 32-bit word."""
    h = word & 0xFFFFFFFF
    h ^= h >> 16
    h = (h * 0x85EBCA6B) & 0xFFFFFFFF
    h ^= h >> 13
    h = (h * 0xC2B2AE35) & 0xFFFFFFFF
    h ^= h >> 16
    return h


@njit(cache=True, nogil=True, inline="always")
def unit_of(index: Any, seed: int) -> float:
    """A number in [0, 1) for one index: what `hash_unit` has for many."""
    return mix32(int(index) * 0x9E3779B1 + (seed & 0xFFFF) * 0x85EBCA77 + 0x165667B1) * 2.0**-32


def hash_unit(index: NDArray[Any], seed: int) -> NDArray[np.float64]:
    """A number in [0, 1) for each index, any shape."""
    out = np.empty(index.shape)
    fill_units(index.astype(np.int64).ravel(), seed & 0xFFFF, out.reshape(-1))
    return out


@njit(cache=True, nogil=True, error_model="numpy")
def fill_units(index: NDArray[np.int64], seed: int, out: NDArray[np.float64]) -> None:
    """Fill in the numbers of `hash_unit`."""
    for i in range(len(out)):
        out[i] = unit_of(index[i], seed)


@njit(cache=True, nogil=True, inline="always")
def lattice_unit(i: int, j: int, word: int) -> float:
    """A number in [0, 1) for lattice point (i, j) of the noise named `word`."""
    return mix32(i * 0x27D4EB2F + j * 0x165667B1 + int(word)) / 4294967296.0


@njit(cache=True, nogil=True, inline="always")
def noise2(x: float, y: float, word: int) -> float:
    """Smooth value noise in [-1, 1] with unit lattice."""
    i = int(np.floor(x))
    j = int(np.floor(y))
    u = x - i
    w = y - j
    u = u * u * (3.0 - 2.0 * u)
    w = w * w * (3.0 - 2.0 * w)
    a = lattice_unit(i, j, word) * (1 - u) + lattice_unit(i + 1, j, word) * u
    b = lattice_unit(i, j + 1, word) * (1 - u) + lattice_unit(i + 1, j + 1, word) * u
    return 2.0 * (a * (1 - w) + b * w) - 1.0


@njit(cache=True, nogil=True)
def add_noise(
    out: NDArray[np.float64], share: float, x: NDArray[np.float64], y: NDArray[np.float64], word: int
) -> None:
    """Add a share of `noise2` at columns `x` and rows `y`, which rise: what a row of its lattice holds is
    scrambled once for all places beside it."""
    first, ease = int(np.floor(x[0])), np.empty(len(x))
    cell, lines = np.empty(len(x), np.int64), np.empty((2, int(np.floor(x[-1])) - first + 2))
    for c in range(len(x)):
        u = x[c] - np.floor(x[c])
        cell[c], ease[c] = int(np.floor(x[c])) - first, u * u * (3.0 - 2.0 * u)
    for r in range(len(y)):
        j = int(np.floor(y[r]))
        if r == 0 or j != int(np.floor(y[r - 1])):
            for k in range(lines.shape[1]):
                lines[0, k], lines[1, k] = (
                    lattice_unit(first + k, j, word),
                    lattice_unit(first + k, j + 1, word),
                )
        w = y[r] - j
        w = w * w * (3.0 - 2.0 * w)
        for c in range(len(x)):
            k, u = cell[c], ease[c]
            a = lines[0, k] * (1 - u) + lines[0, k + 1] * u
            b = lines[1, k] * (1 - u) + lines[1, k + 1] * u
            out[r, c] += share * (2.0 * (a * (1 - w) + b * w) - 1.0)


@njit(cache=True, nogil=True, inline="always")
def noise1(x: float, word: int) -> float:
    """Smooth value noise in [-1, 1] along a line, unit lattice."""
    i = int(np.floor(x))
    u = x - i
    u = u * u * (3.0 - 2.0 * u)
    return 2.0 * (lattice_unit(i, 0, word) * (1 - u) + lattice_unit(i + 1, 0, word) * u) - 1.0


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def line_noise(crest: Any, phase: Any, name: Any) -> Any:
    """As `noise1`, so far on from the lattice point `crest`, in numbers of 32 bits: many at a time."""
    past = np.floor(phase)
    cell, u = np.uint32(crest + np.uint32(np.int32(past))), phase - past
    u = u * u * (np.float32(3.0) - np.float32(2.0) * u)
    low, high = _unit(cell, name), _unit(np.uint32(cell + np.uint32(1)), name)
    return np.float32(2.0) * (low + (high - low) * u) - np.float32(1.0)


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _unit(cell: Any, name: Any) -> Any:
    """`lattice_unit` of a line, in words of 32 bits."""
    h = np.uint32(np.uint32(cell * np.uint32(0x27D4EB2F)) + np.uint32(name))
    h = np.uint32(h ^ (h >> np.uint32(16)))
    h = np.uint32(h * np.uint32(0x85EBCA6B))
    h = np.uint32(h ^ (h >> np.uint32(13)))
    h = np.uint32(h * np.uint32(0xC2B2AE35))
    h = np.uint32(h ^ (h >> np.uint32(16)))
    return np.float32(np.int32(h >> np.uint32(8))) * np.float32(1.0 / 16777216.0)
