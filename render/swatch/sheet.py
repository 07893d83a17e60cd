"""The sheet that goes with the swatch: what to do, the swatch at true size, and room to write."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from render.model import Picture
from render.swatch.columns import LINE_MM, READ_AT, SPACING_MM
from render.swatch.template import READINGS

if TYPE_CHECKING:
    from collections.abc import Iterable

    from render.swatch.columns import Column, Swatch

DPI = 300
PX_PER_MM = DPI / 25.4
A4_MM = 210.0, 297.0
LEFT_MM, RIGHT_MM = 15.0, 195.0
NOTED_MM = 32.5  # the line for what it was sewn on
MAP_MM = 15.0, 40.5  # where the swatch's (0, 0) lies
WORDS_MM = 117.0, 41.0
TABLE_MM = 134.0  # its top; everything ends above 266 mm, so that Letter paper holds it too
LABEL_MM, CELL_MM, BOX_MM = 19.0, 23.0, 6.0
FIT_MM = 248.0
RULER_MM = 263.0
TEXT_MM, SMALL_MM = 2.6, 2.3
BLACK, GREY, PALE = 0, 110, 225

NOTED = (("Cloth", 42), ("Stabiliser", 36), ("Hoop", 26), ("Thread", 38), ("Tension, N", 38))
WORDS = (
    ("1  Sew", True),
    ("Hoop cloth and stabiliser as for the work itself, the wales (or the warp) along the arrow. "
     "Use the needle, thread, tension and speed of every day.", False),
    ("Stop the machine before hands or scissors go near the needle.", True),
    ("2  Measure, still in the hoop", True),
    ("Lay the hoop flat. Set the outer jaws of the calliper on both edges of the column: they touch the "
     "stitching and do not squeeze it.", False),
    ("Three readings a column, at the ticks beside it: a quarter, half and three quarters along. Write "
     "down what you read, to 0.05 mm or finer, odd or not. Leave out a spoilt column.", False),
    ("In a hurry: one reading a column of rows 1 to 3 tells how far the needle holes give.", False),
    (f"The long line is programmed {LINE_MM:.0f} mm. If it reads under {LINE_MM - 1:.0f} or over "
     f"{LINE_MM + 0.5:.1f} mm, look to the hoop or the calliper first.", False),
)  # fmt: skip
FIT_WORDS = (
    ("3  Fit", True),
    ("Type the readings into the list (CSV) that came with the swatch, then: twillight fit LIST.csv --fabric "
     "NAME -o my-fabric.toml. It holds for this cloth and this way of measuring.", False),
)  # fmt: skip


class _Page:
    """A white A4 page drawn on in mm."""

    def __init__(self) -> None:
        wide, high = (round(side * PX_PER_MM) for side in A4_MM)
        self.image = Image.new("L", (wide, high), 255)
        self.pen = ImageDraw.Draw(self.image)

    def line(self, corners: Iterable[tuple[float, float]], width_mm: float = 0.2, grey: int = BLACK) -> None:
        """A line along corners, mm."""
        points = [(x * PX_PER_MM, y * PX_PER_MM) for x, y in corners]
        self.pen.line(points, fill=grey, width=max(1, round(width_mm * PX_PER_MM)), joint="curve")

    def box(self, left: float, top: float, right: float, bottom: float, *, fill: int | None = None) -> None:
        """A thin frame, mm, around a tint if one is given."""
        if fill is not None:
            self.pen.rectangle([v * PX_PER_MM for v in (left, top, right, bottom)], fill=fill)
        self.line([(left, top), (right, top), (right, bottom), (left, bottom), (left, top)], 0.15)

    def text(
        self,
        x: float,
        y: float,
        words: str,
        size_mm: float = TEXT_MM,
        *,
        anchor: str = "ls",
        bold: bool = False,
    ) -> None:
        """Words with their `anchor`, as the library names it, at a place, mm."""
        font = _font(size_mm)
        self.pen.text(
            (x * PX_PER_MM, y * PX_PER_MM),
            words,
            fill=BLACK,
            font=font,
            anchor=anchor,
            stroke_width=1 if bold else 0,
        )

    def paragraph(self, x: float, y: float, words: str, *, right: float, bold: bool) -> float:
        """Words set in lines from `x` to `right`; returns the next free line."""
        font, line = _font(TEXT_MM), ""
        for word in [*words.split(), ""]:
            longer = f"{line} {word}".strip()
            if not word or font.getlength(longer) > (right - x) * PX_PER_MM:
                self.text(x, y, line, bold=bold)
                y += 1.42 * TEXT_MM
                line = word
            else:
                line = longer
        return y


def _font(size_mm: float) -> ImageFont.FreeTypeFont:
    """The font that comes with the picture library, so that the sheet looks the same everywhere."""
    font = ImageFont.load_default(round(size_mm * PX_PER_MM * 1.35))
    assert isinstance(font, ImageFont.FreeTypeFont)
    return font


def draw_sheet(swatch: Swatch) -> Picture:
    """The sheet, A4 at 300 dpi."""
    page = _Page()
    page.text(LEFT_MM, 19, "Test swatch: how your machine and cloth pull", 4.6, bold=True)
    page.text(
        LEFT_MM, 24.5, "Print at 100 %, without fitting to the page. The swatch below is drawn at true size."
    )
    _draw_map(page, swatch)
    _draw_noted(page)
    for (x, y), paragraphs in ((WORDS_MM, WORDS), ((LEFT_MM, FIT_MM), FIT_WORDS)):
        for words, bold in paragraphs:
            y = page.paragraph(x, y, words, right=RIGHT_MM, bold=bold) + 1.1
    _draw_table(page, swatch)
    _draw_ruler(page)
    pixels = np.repeat(np.asarray(page.image)[:, :, None], 3, axis=2)
    return Picture(pixels, float(DPI))


def _draw_noted(page: _Page) -> None:
    """A line to write down what the swatch was sewn on."""
    x = LEFT_MM
    for name, room in NOTED:
        page.text(x, NOTED_MM, name, SMALL_MM)
        begin = x + _font(SMALL_MM).getlength(name) / PX_PER_MM + 1.5
        page.line([(begin, NOTED_MM + 0.5), (x + room - 3, NOTED_MM + 0.5)], 0.15)
        x += room


def _draw_map(page: _Page, swatch: Swatch) -> None:
    """Everything that is sewn, at true size, and ticks where to measure."""
    left, top = MAP_MM
    for column in swatch.columns:
        x, y = left + column.corner_mm[0], top + column.corner_mm[1]
        wide, high = column.size_mm
        page.box(x, y, x + wide, y + high, fill=PALE)
        for share in READ_AT:
            if column.stitches == "across":
                page.line([(x + wide + 0.3, y + share * high), (x + wide + 1.2, y + share * high)], 0.2)
            else:
                page.line([(x + share * wide, y + high + 0.3), (x + share * wide, y + high + 1.2)], 0.2)
    for line in swatch.lines_mm:
        page.line([(left + x, top + y) for x, y in line.tolist()], 0.3)


def _draw_table(page: _Page, swatch: Swatch) -> None:
    """A box a reading: rows as sewn, widths across."""
    top, widths = TABLE_MM, sorted(SPACING_MM)
    page.text(LEFT_MM, top - 5.5, "Row", SMALL_MM)
    for k, width in enumerate(widths):
        x = LEFT_MM + LABEL_MM + CELL_MM * (k + 0.5)
        page.text(x, top - 5.5, f"{width} mm", TEXT_MM, anchor="ms", bold=True)
        page.text(x, top - 1.6, f"spacing {SPACING_MM[width]:g}", SMALL_MM, anchor="ms")
    rows = sorted({column.row: column for column in swatch.columns}.items())
    for k, (row, column) in enumerate(rows):
        _draw_row(page, row, column, top + k * READINGS * BOX_MM, len(widths))


def _draw_row(page: _Page, row: int, column: Column, top: float, cells: int) -> None:
    bottom = top + READINGS * BOX_MM
    page.text(LEFT_MM + 1, top + 7, str(row), 5.0, bold=True)
    page.text(LEFT_MM + 1, top + 12, "stitches", SMALL_MM)
    page.text(LEFT_MM + 1, top + 15.5, column.stitches, SMALL_MM)
    right = LEFT_MM + LABEL_MM + CELL_MM * cells
    for share in range(1, READINGS):
        y = top + share * BOX_MM
        page.line([(LEFT_MM + LABEL_MM, y), (right, y)], 0.1, GREY)
    for cell in range(cells + 1):
        x = LEFT_MM + LABEL_MM + CELL_MM * cell
        page.line([(x, top), (x, bottom)], 0.2)
    page.line([(LEFT_MM, top), (right, top)], 0.3)
    page.line([(LEFT_MM, bottom), (right, bottom)], 0.3)


def _draw_ruler(page: _Page) -> None:
    """100 mm, to see whether the printer kept the size."""
    for mm in range(101):
        length = 3.0 if mm % 10 == 0 else 2.2 if mm % 5 == 0 else 1.4
        page.line([(LEFT_MM + mm, RULER_MM), (LEFT_MM + mm, RULER_MM - length)], 0.12)
        if mm % 10 == 0:
            page.text(LEFT_MM + mm, RULER_MM + 3.2, str(mm), SMALL_MM, anchor="ms")
    page.line([(LEFT_MM, RULER_MM), (LEFT_MM + 100, RULER_MM)], 0.2)
    page.text(LEFT_MM + 104, RULER_MM, "mm. If 100 is not 100, print again at 100 %.", SMALL_MM)
