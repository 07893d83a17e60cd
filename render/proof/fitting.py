"""What fits on the customer's page between head and foot, and how large."""

from __future__ import annotations

from dataclasses import dataclass

from render.proof.blocks import LISTS, ListShape, list_shape

GAP_MM = 7.0  # between the picture and the facts beside it
BESIDE_MM = 48.0  # least width of these
NARROWEST_MM = 62.0  # of the picture's column, for the ruler's words
RULER_MM = 19.0  # from the picture's lower edge to below the ruler's words
FACTS_MM = 24.0  # facts below the picture, where none fit beside it
DRAWN_FACTS_MM = 46.0  # with a drawing of the garment
DRAWING_MM = 38.0  # of it below the facts beside the picture
LIST_HEAD_MM = 8.5


@dataclass(frozen=True, slots=True)
class Sizes:
    """Width and height of the picture at true size, height of the facts beside it, whether a garment
    is to be drawn, and how many threads there are to list."""

    picture: tuple[float, float]
    beside: float
    drawing: bool
    threads: int


@dataclass(frozen=True, slots=True)
class Fit:
    """Scale of the picture, whether facts stand beside or below it, whether there is room to draw the
    garment; how threads are listed, None where another page has to hold them; height of picture and
    facts."""

    scale: float
    beside: bool
    drawing: bool
    shape: ListShape | None
    height_mm: float


def fit_page(sizes: Sizes, inner: float, room: float) -> Fit:
    """True size comes first, the list of threads second, a drawing of the garment third.

    `inner` is the width of the page's contents and `room` the height between head and foot, mm.
    """
    width, height = sizes.picture
    if width > inner or height + RULER_MM + FACTS_MM > room:
        fits = [_scaled(sizes, inner, room, beside=way) for way in (True, False)]
        return max(fits, key=lambda fit: fit.scale)
    beside = max(width, NARROWEST_MM) + GAP_MM + BESIDE_MM <= inner
    for drawing in (True, False) if sizes.drawing else (False,):
        if beside:
            facts = sizes.beside + (DRAWING_MM if drawing else 0.0)
            high = max(height + RULER_MM, facts)
        else:
            high = height + RULER_MM + (DRAWN_FACTS_MM if drawing else FACTS_MM)
        shape = list_shape(sizes.threads, room - high - LIST_HEAD_MM)
        if shape is not None:
            return Fit(1.0, beside, drawing, shape, high)
    return Fit(1.0, beside, False, None, min(high, room))


def _scaled(sizes: Sizes, inner: float, room: float, *, beside: bool) -> Fit:
    """A picture that is too large, made smaller; a long list of threads goes to another page."""
    width, height = sizes.picture
    columns, row_mm = LISTS[2]
    listed = ListShape(columns, -(-sizes.threads // columns), row_mm)
    shape = listed if listed.height_mm <= 0.3 * room else None
    left_over = room - (0.0 if shape is None else shape.height_mm + LIST_HEAD_MM + 2.0)
    high = left_over - RULER_MM - (0.0 if beside else FACTS_MM)
    wide = inner - (GAP_MM + BESIDE_MM if beside else 0.0)
    return Fit(min(wide / width, high / height, 1.0), beside, sizes.drawing, shape, left_over)
