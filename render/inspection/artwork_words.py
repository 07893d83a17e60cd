"""The differences between artwork and sewing in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from render.colour import colour_words, hex_colour
from render.inspection.artwork import LEAST_OVERLAP
from render.words import seen_from_middle

if TYPE_CHECKING:
    from render.inspection.artwork import ArtworkFinding, ArtworkMatch

    Box = tuple[float, float, float, float]


def artwork_lines(match: ArtworkMatch, box_mm: Box) -> list[str]:
    """The differences, a line each; `box_mm` is that of the design."""
    if match.overlap == 0 or not match.findings:
        return [_verdict(match)]
    return [
        _verdict(match),
        *(f"{number}  {_line(one, box_mm)}" for number, one in enumerate(match.findings, 1)),
    ]


def _verdict(match: ArtworkMatch) -> str:
    if match.overlap < LEAST_OVERLAP:
        return "the artwork does not lie on this sewing: it looks like another design, or is turned"
    if not match.findings:
        return f"the artwork and the sewing agree ({100 * match.overlap:.0f} % of their area is shared)"
    return f"of the artwork, {len(match.findings)} areas are not as drawn"


def _line(one: ArtworkFinding, box_mm: Box) -> str:
    colour = f"{colour_words(one.logo_srgb)} ({hex_colour(one.logo_srgb)})"
    where = seen_from_middle(one.where_mm, box_mm)
    return f"{one.what.replace('-', ' ')}: {colour} area of {one.size_mm:.1f} mm, {where}: {one.words}"
