"""Lines, frames and shapes on the pages of a PDF, in millimetres from the upper left corner."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING

from fpdf import FPDF

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from render.model import Colour

HAIR: Colour = (0.80, 0.81, 0.82)


class Shapes(FPDF):
    """Pages with what has no words; only `shape` may be part of something that has a meaning."""

    @contextmanager
    def decoration(self) -> Iterator[None]:
        """What is drawn inside has no meaning of its own: lines and grounds."""
        self._out("/Artifact BMC")
        yield
        self._out("EMC")

    def rule(
        self, x0: float, y0: float, x1: float, y1: float, *, ink: Colour = HAIR, width_mm: float = 0.2
    ) -> None:
        """A straight line."""
        with self.decoration():
            self.set_draw_color(*(round(255 * part) for part in ink))
            self.set_line_width(width_mm)
            self.line(x0, y0, x1, y1)

    def frame(
        self,
        x: float,
        y: float,
        width: float,
        height: float,
        *,
        ink: Colour | None = HAIR,
        fill: Colour | None = None,
        corner: float = 0.0,
        line_mm: float = 0.2,
    ) -> None:
        """A rectangle, with round corners where asked for."""
        with self.decoration():
            if ink is not None:
                self.set_draw_color(*(round(255 * part) for part in ink))
                self.set_line_width(line_mm)
            if fill is not None:
                self.set_fill_color(*(round(255 * part) for part in fill))
            style = ("D" if ink is not None else "") + ("F" if fill is not None else "")
            self.rect(x, y, width, height, style=style, round_corners=corner > 0, corner_radius=corner)

    def shape(
        self,
        steps: Sequence[tuple[str, tuple[float, ...]]],
        *,
        fill: Colour | None,
        ink: Colour,
        line_mm: float,
    ) -> None:
        """A path of M, L, C and Z with absolute points on the page, mm; part of what is being tagged."""
        self.set_draw_color(*(round(255 * part) for part in ink))
        self.set_line_width(line_mm)
        if fill is not None:
            self.set_fill_color(*(round(255 * part) for part in fill))
        for command, numbers in steps:
            places = (
                f"{(one if at % 2 == 0 else self.h - one) * self.k:.3f}" for at, one in enumerate(numbers)
            )
            self._out(" ".join([*places, {"M": "m", "L": "l", "C": "c", "Z": "h"}[command]]))
        self._out("S" if fill is None else "B")

    def ring(self, x: float, y: float, radius: float) -> None:
        """A ring around a place on a picture, seen on any colour."""
        with self.decoration():
            for ink, line_mm in ((1.0, 1.2), (0.0, 0.5)):
                self.set_draw_color(round(255 * ink))
                self.set_line_width(line_mm)
                self.circle(x, y, radius, style="D")
