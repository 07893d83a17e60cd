"""Lettering: satin columns on the strokes of an open font (see letters.json for its licence).

A glyph is a list of columns; a column two rails of font units, y up, with as many knots. A
rail's points are `[x, y]` on the curve and `[x, y, 0]` control points of quadratic curves,
as the font's outlines have them.
"""

from __future__ import annotations

import json
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np

from digitize.parts import Part, Points, as_points
from digitize.satin import satin
from digitize.shapes import at, turned

PER_PIECE = 14  # points between two knots of a rail


def letters_on_line(
    text: str, *, height_mm: float, left_mm: tuple[float, float], tracking_mm: float = 0.0
) -> list[list[Part]]:
    """Each letter of `text` in capitals `height_mm` high, on a baseline that starts at `left_mm`."""
    return [
        _sew(char, lambda points, x=x: points * _scale(height_mm) * (1, -1) + (left_mm[0] + x, left_mm[1]))
        for char, x in _placed(text, height_mm, tracking_mm)
    ]


def letters_on_arc(
    text: str, *, height_mm: float, radius_mm: float, middle_deg: float, tracking_mm: float = 0.0
) -> list[list[Part]]:
    """Each letter on a baseline circle about the origin, centred at `middle_deg` (270 = top).

    Text on the lower half stands with its head towards the centre, so that it reads from
    left to right too. Spacing is true at half the height of the letters.
    """
    below = 0 < middle_deg % 360 < 180
    sign = -1.0 if below else 1.0
    half_way = radius_mm + sign * height_mm / 2
    width = text_width_mm(text, height_mm, tracking_mm)

    def place(x: float, advance_mm: float) -> Any:
        across = x + advance_mm / 2
        azimuth = middle_deg + sign * np.degrees((across - width / 2) / half_way)

        def to_cloth(points: Points) -> Points:
            upright = points * _scale(height_mm) * (1, -1) - (advance_mm / 2, 0)
            out = np.array([np.cos(np.radians(azimuth)), np.sin(np.radians(azimuth))]) * radius_mm
            return turned(upright, azimuth + sign * 90) + out

        return to_cloth

    return [
        _sew(char, place(x, font()["glyphs"][char]["advance"] * _scale(height_mm)))
        for char, x in _placed(text, height_mm, tracking_mm)
    ]


def text_width_mm(text: str, height_mm: float, tracking_mm: float = 0.0) -> float:
    """Length of the line of text, without tracking after the last letter."""
    units = sum(font()["glyphs"][char]["advance"] for char in text)
    return float(units * _scale(height_mm) + tracking_mm * (len(text) - 1))


@cache
def font() -> dict[str, Any]:
    """The glyphs that ship with the examples."""
    return dict(json.loads((Path(__file__).parent / "letters.json").read_text("utf-8")))


def _scale(height_mm: float) -> float:
    return float(height_mm / font()["cap_height"])


def _placed(text: str, height_mm: float, tracking_mm: float) -> list[tuple[str, float]]:
    """Letters with columns, and where each begins on the line in mm."""
    placed, x = [], 0.0
    for char in text:
        glyph = font()["glyphs"][char]
        if glyph["columns"]:
            placed.append((char, x))
        x += glyph["advance"] * _scale(height_mm) + tracking_mm
    return placed


def _sew(char: str, to_cloth: Any) -> list[Part]:
    parts: list[Part] = []
    for column in font()["glyphs"][char]["columns"]:
        left, right = (to_cloth(_rail(column[side])) for side in ("left", "right"))
        parts += satin(left, right, through=column.get("through", False))
    return parts


def _rail(points: list[list[float]]) -> Points:
    """The rail as a polyline with `PER_PIECE` even steps from knot to knot."""
    knots = [i for i, point in enumerate(points) if len(point) == 2]
    pieces = [
        at(_piece(points[a : b + 1]), np.linspace(0, 1, PER_PIECE + 1))[:-1] for a, b in pairwise(knots)
    ]
    return np.concatenate([*pieces, as_points([points[-1]])])


def _piece(points: list[list[float]]) -> Points:
    """From one knot to the next: a line, or quadratic curves that meet half way between
    their control points."""
    xy = as_points([point[:2] for point in points])
    controls = xy[1:-1]
    if not len(controls):
        return xy
    ends = np.concatenate([xy[:1], (controls[:-1] + controls[1:]) / 2, xy[-1:]])
    t = np.linspace(0, 1, 9)[:, None]
    curves = [
        (1 - t) ** 2 * a + 2 * t * (1 - t) * c + t**2 * b
        for a, c, b in zip(ends[:-1], controls, ends[1:], strict=True)
    ]
    return np.concatenate(curves)
