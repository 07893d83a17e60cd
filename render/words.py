"""Numbers, names and places as people read them."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence


def printable(text: str) -> str:
    """Text from a file on one line, without signs that steer a terminal."""
    return " ".join("".join(sign if sign.isprintable() else " " for sign in text).split())


def counted(number: int, noun: str, plural: str | None = None) -> str:
    """`1 trim`, `1,200 trims`."""
    return f"{number:,} {noun}" if number == 1 else f"{number:,} {plural or noun + 's'}"


def seen_from_middle(where_mm: tuple[float, float], box_mm: tuple[float, float, float, float]) -> str:
    """A place on the design as one points at it: `12 mm left and 3 mm up from the middle`."""
    x = where_mm[0] - (box_mm[0] + box_mm[2]) / 2
    y = where_mm[1] - (box_mm[1] + box_mm[3]) / 2
    parts = [
        f"{abs(way):.0f} mm {less if way < 0 else more}"
        for way, less, more in ((x, "left", "right"), (y, "up", "down"))
        if round(abs(way))
    ]
    return f"{' and '.join(parts)} from the middle" if parts else "in the middle"


def either(names: Sequence[str]) -> str:
    """`a, b or c`."""
    return f"{', '.join(names[:-1])} or {names[-1]}"


def first_up(text: str) -> str:
    """A sentence with a capital at its start."""
    return text[:1].upper() + text[1:]
