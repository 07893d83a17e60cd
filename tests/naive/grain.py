"""Slow, plain twins of hashes and noise."""

from __future__ import annotations

import math
from typing import Any


def mix32(word: int) -> int:
    """MurmurHash3's 32-bit finaliser (Appleby, public domain), with Python's whole numbers."""
    h = word % 2**32
    h = ((h ^ (h >> 16)) * 0x85EBCA6B) % 2**32
    h = ((h ^ (h >> 13)) * 0xC2B2AE35) % 2**32
    return h ^ (h >> 16)


def hash_unit(index: int, seed: int) -> float:
    return mix32(index * 0x9E3779B1 + (seed % 65536) * 0x85EBCA77 + 0x165667B1) / 2**32


def smooth(t: float) -> float:
    return t * t * (3 - 2 * t)


def noise2(x: float, y: float, word: int) -> float:
    """Value noise: hashed lattice corners, blended by smoothsteps."""
    corner_x, corner_y = math.floor(x), math.floor(y)
    total = 0.0
    for dx in (0, 1):
        for dy in (0, 1):
            hashed = mix32((corner_x + dx) * 0x27D4EB2F + (corner_y + dy) * 0x165667B1 + word) / 2**32
            weight_x = smooth(x - corner_x) if dx else 1 - smooth(x - corner_x)
            weight_y = smooth(y - corner_y) if dy else 1 - smooth(y - corner_y)
            total += weight_x * weight_y * hashed
    return 2 * total - 1


def waves2(x: float, y: float, waves: Any, word: int) -> float:
    """Noises of several wavelengths, each with its weight."""
    each = [w * noise2(x / long, y / long, word + 10 * k) for k, (long, w) in enumerate(waves)]
    return float(sum(each))


def noise1(x: float, word: int) -> float:
    return noise2(x, 0.0, word)


def lattice(i: int, j: int, word: int) -> float:
    """A hashed number in [0, 1) of one lattice point."""
    return mix32(i * 0x27D4EB2F + j * 0x165667B1 + word) / 2**32
