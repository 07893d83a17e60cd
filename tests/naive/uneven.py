"""Slow, plain twins of what is uneven about every sewn piece."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from naive.grain import hash_unit

Point = Sequence[float]


def even(index: int, seed: int) -> float:
    """A number from -1 to 1."""
    return 2 * hash_unit(index, seed) - 1


def snapped(mm: float) -> float:
    return round(mm * 4096) / 4096


def needle_aside(c: Any, aimed: Point, reach: float, row: Point, seed: int) -> list[float]:
    """How far the cloth's yarns turn a needle that was aimed there aside, and the rows draw its hole."""
    hole = sum((round(mm * c.HOLES_PER_MM) % 65536) * 65536**axis for axis, mm in enumerate(aimed))
    tight = c.ALONG_MM * even(hole, seed + 1110)
    return [snapped(reach * even(hole, seed + 1101 + axis) + tight * row[axis]) for axis in (0, 1)]


def row_way(stitches: Sequence[tuple[Point, Point]], breaks: Sequence[bool], i: int, side: int) -> Point:
    """The way of the longer of two stitches of fills that share a hole."""
    one, other = i - 1 + side, i + side
    shared = one >= 0 and other < len(stitches) and not breaks[other]
    longest = max((one, other) if shared else (i,), key=lambda k: math.dist(*stitches[k]))
    start, end = stitches[longest]
    return [(b - a) / math.dist(start, end) for a, b in zip(start, end, strict=True)]


def asked(c: Any, strand: Any, seed: int) -> list[float]:
    """What is asked of one strand that is drawn tight: see `tightened`."""
    length, line = math.dist(strand.start, strand.end), strand.line
    beside = strand.beside and not line
    crown, wave = (
        sign * min(per_mm * length, most) * strand.beside
        for sign, per_mm, most in (
            (even(strand.grain, seed + 1104), c.CROWN_PER_MM, c.MOST_CROWN_MM),
            (even(strand.grain, seed + 1105), c.WAVE_PER_MM, c.MOST_WAVE_MM),
        )
    )
    sunk = 0.0
    if line:
        sunk = strand.sunk_mm * (1 + c.SUNK_UNEVEN * even(strand.grain, seed + 1106))
    elif strand.beside and not any(strand.straight) and length < c.SHORT_MM:
        sunk = c.SHORT_SUNK_MM * (1 - length / c.SHORT_MM)
    dips = []
    for side, (height, half) in enumerate(strand.lie):
        held_up = min(max(height / c.HELD_UP_MM, 0), 1)
        rounder = c.SEEN_HEIGHT * (1 - c.TAPERED[c.AMONG]) * half
        more = c.END_DIP_MM * hash_unit(strand.grain, seed + 1107 + side) + held_up * rounder
        dips.append(strand.dives[side] * (c.HOLE_DIP_MM if line else beside * more))
    over = c.HOLE_DIP_LONG_MM if line else c.END_DIP_LONG_MM
    return [crown, wave, sunk + strand.pressed, *dips, length / over]


def shared_hole(side: Point, other_side: Point, play: Point, other: Point) -> list[float]:
    """How far two threads in one hole, which run across such sides, play together."""
    alike = abs(sum(a * b for a, b in zip(side, other_side, strict=True)))
    return [(a + b) / math.sqrt(1 + alike) for a, b in zip(play, other, strict=True)]


def hole_drag(c: Any, run: Point, give: Point, i: int, side: int, seed: int) -> complex:
    """How far the hole at one side of stitch `i` drags yarns along, x + yi."""
    way = complex(*run)
    place, part = divmod(i, c.TENSION_STITCHES)
    before, after = even(place, seed + 1201), even(place + 1, seed + 1201)
    tension = before + (after - before) * part / c.TENSION_STITCHES
    own, across = (even(i, seed + 1202 + 2 * side + k) for k in (0, 1))
    pulled = (-1) ** side * c.TUG_MM * min(abs(way) / c.FULL_MM, 1) * way / abs(way)
    pulled += c.ALONG_SHARE * complex(*give)
    pulled *= 1 + c.TENSION_UNEVEN * 0.5 * (tension + own)
    pulled *= 1 + c.SIDEWAYS * across * 1j
    return pulled / abs(pulled) * c.MOST_MM * math.tanh(abs(pulled) / c.MOST_MM)
