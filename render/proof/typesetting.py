"""Text and pictures on the pages of a PDF, in millimetres from the upper left corner.

Text is shaped and ordered as its script asks, tagged with what it is, and carries its own wording
for those who search, copy or listen; what does not fit is cut off with an ellipsis, never squeezed
or run over others. The same calls make the same bytes: dates and identifiers are fixed.
"""

from __future__ import annotations

import unicodedata
from contextlib import contextmanager
from datetime import UTC, datetime
from importlib.resources import files
from typing import TYPE_CHECKING, Literal

from fpdf.enums import OutputIntentSubType
from fpdf.output import PDFICCProfile
from fpdf.prefs import ViewerPreferences

from render.proof.fonts import BOLD, REGULAR, font_path, fonts_for, signs_of
from render.proof.line_breaks import FROM_RIGHT, clusters, runs_from_right, units_of
from render.proof.shapes import Shapes

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from render.model import Colour

MM_PER_POINT = 25.4 / 72
INK: Colour = (0.13, 0.14, 0.16)
SOFT: Colour = (0.42, 0.44, 0.47)  # 5.2 : 1 on white
FAMILY = "proof"
MEASURED_PT = 100.0
NEARLY_FULL = 0.7  # of its width, from where a line is measured as a whole
PART_MARK = "  ·  "
UNKNOWN = "\N{REPLACEMENT CHARACTER}"
FIXED_DATE = datetime(2000, 1, 1, tzinfo=UTC)  # a page must not depend on the clock
Tag = Literal["H1", "H2", "P", "Figure"]
Align = Literal["left", "middle", "right"]


class Sheets(Shapes):
    """The pages of one document. `texts` is all text of others that will be set: it decides the fonts."""

    def __init__(self, *, title: str, language: str, subject: str, texts: Sequence[str]) -> None:
        super().__init__(unit="mm")
        self.set_creation_date(FIXED_DATE)
        self.set_title(title)
        self.set_subject(subject)
        self.set_lang(language)
        self.set_producer("Twillight")
        self.viewer_preferences = ViewerPreferences(display_doc_title=True, print_scaling="None")
        profile = files("render.write").joinpath("srgb.icc").read_bytes()
        self.add_output_intent(
            OutputIntentSubType.PDFA,
            "sRGB IEC61966-2.1",
            "sRGB IEC61966-2.1",
            "http://www.color.org",
            PDFICCProfile(contents=profile, n=3, alternate="DeviceRGB"),
            "sRGB IEC61966-2.1",
        )
        self.set_auto_page_break(False)
        self.set_margin(0)
        self.c_margin = 0.0
        self.add_font(FAMILY, "", font_path(REGULAR))
        self.add_font(FAMILY, "B", font_path(BOLD))
        others = fonts_for(texts)
        for name in others:
            self.add_font(name, "", font_path(name))
        self._signs = signs_of(others)
        self._long: dict[tuple[str, bool], float] = {}
        self.set_font(FAMILY, "", 9)
        self.set_fallback_fonts(list(others), exact_match=False)
        self.set_text_shaping(True)

    def new_page(self, width_mm: float, height_mm: float) -> None:
        """Go on with an empty page."""
        self.add_page(orientation="P", format=(width_mm, height_mm))

    def number_pages(self, said: Callable[[int, int], str], edge_mm: float) -> None:
        """Write what `said` says of number and count at the foot of each page; nothing on a lone one."""
        count = len(self.pages)
        for number in range(1, count + 1 if count > 1 else 1):
            self.page = number
            width, height = (points * MM_PER_POINT for points in self.pages[number].dimensions())
            self.w, self.h = width, height
            text = said(number, count)
            self.line_of_text(text, width - edge_mm, height - 9.5, size_pt=6.5, ink=SOFT, align="right")

    @contextmanager
    def tagged(self, tag: Tag, *, alt: str | None = None, text: str | None = None) -> Iterator[None]:
        """What is drawn inside is one element of the document's structure."""
        mcid = self.struct_builder.next_mcid_for_page(self.page)
        _, parents = self.struct_builder.add_marked_content(
            page_number=self.page, struct_type=f"/{tag}", mcid=mcid, alt_text=alt
        )
        self.pages[self.page].struct_parents = parents
        self._out(f"/{tag} <</MCID {mcid}>> BDC")
        if text is not None:  # readers look for it in a span only
            self._out(f"/Span <</ActualText <feff{text.encode('utf-16-be').hex()}>>> BDC")
        yield
        self._out("EMC" if text is None else "EMC EMC")

    def width_of(self, text: str, size_pt: float, *, bold: bool = False) -> float:
        """How long a line of text is, mm."""
        key = text, bold
        if key not in self._long:
            self.set_font(FAMILY, "B" if bold else "", MEASURED_PT)
            self._long[key] = float(self.get_string_width(self._known(text)))
        return self._long[key] * size_pt / MEASURED_PT

    def _known(self, text: str) -> str:
        """The text with a replacement sign for each sign that no font has."""
        return "".join(sign if ord(sign) in self._signs else UNKNOWN for sign in text)

    def line_of_text(
        self,
        text: str,
        x: float,
        y: float,
        *,
        size_pt: float = 9.0,
        bold: bool = False,
        ink: Colour = INK,
        width: float | None = None,
        align: Align = "left",
        tag: Tag = "P",
    ) -> None:
        """One line whose box has its top at `y`; `x` is its left end, middle or right end.

        Longer than `width`, it is cut off with an ellipsis.
        """
        shown = self._known(text)
        if width is not None:
            shown = self._cut(shown, width, size_pt, bold=bold)
        if not shown:
            return
        long = self.width_of(shown, size_pt, bold=bold)
        left = x - {"left": 0.0, "middle": long / 2, "right": long}[align]
        self.set_text_color(*(round(255 * part) for part in ink))
        self.set_xy(left, y)
        self.set_font(FAMILY, "B" if bold else "", size_pt)
        # The library takes the font of the text before for its own even where that ended in another.
        self.current_font_is_set_on_page = False
        # Readers turn right-to-left text round themselves, and would turn its wording, too.
        turned = any(unicodedata.bidirectional(sign) in FROM_RIGHT for sign in shown)
        with self.tagged(tag, text=None if turned else shown):
            self.cell(long + 0.1, line_height(size_pt), shown)

    def parts_of_line(
        self, parts: Sequence[str], x: float, y: float, *, size_pt: float, ink: Colour, width: float
    ) -> None:
        """Words of different people on one line that ends at `x`, each part set for itself: text that
        runs from right to left would else draw its neighbours in."""
        between = self.width_of(PART_MARK, size_pt)
        left = width - between * (len(parts) - 1)
        for at, part in enumerate(reversed(parts)):
            if at:
                x -= between
                self.line_of_text(PART_MARK, x, y, size_pt=size_pt, ink=ink)
            share = left / (len(parts) - at)  # of what is left for all that are still to come
            self.line_of_text(part, x, y, size_pt=size_pt, ink=ink, width=share, align="right")
            taken = min(self.width_of(part, size_pt), share)
            x, left = x - taken, left - taken

    def paragraph(
        self,
        text: str,
        x: float,
        y: float,
        width: float,
        *,
        size_pt: float = 9.0,
        bold: bool = False,
        ink: Colour = INK,
        most_lines: int = 100,
    ) -> float:
        """Lines no longer than `width`, at its right end where the text runs from there; `y` below the
        last of them. What is left over ends in an ellipsis."""
        lines = self.wrapped(text, width, size_pt, bold=bold, most_lines=most_lines)
        from_right = len(lines) > 1 and runs_from_right(text)
        for line in lines:
            start = x + width if from_right else x
            align: Align = "right" if from_right else "left"
            self.line_of_text(line, start, y, size_pt=size_pt, bold=bold, ink=ink, align=align)
            y += line_height(size_pt)
        return y

    def wrapped(
        self, text: str, width: float, size_pt: float, *, bold: bool = False, most_lines: int = 100
    ) -> list[str]:
        """The text in at most so many lines, broken at spaces and between Han signs, words that are
        longer than a line anywhere."""
        lines: list[str] = []
        space = self.width_of(" ", size_pt, bold=bold)
        for row in text.split("\n"):
            lines.append("")
            about = 0.0
            for unit in units_of(row):
                for part in self._fitting(unit, width, size_pt, bold=bold):
                    longer = lines[-1] + part
                    spaces = len(part) - len(part.rstrip())
                    about += self.width_of(part.rstrip() or part, size_pt, bold=bold) + spaces * space
                    # Signs that join make a line hardly shorter than its parts: it is measured near its end.
                    near = lines[-1] and about > NEARLY_FULL * width
                    if near and self.width_of(longer.rstrip(), size_pt, bold=bold) > width:
                        lines.append(part.lstrip())
                        about = self.width_of(lines[-1].rstrip(), size_pt, bold=bold) + spaces * space
                    else:
                        lines[-1] = longer
                if len(lines) > most_lines:
                    break
        if len(lines) > most_lines:
            cut = self._cut(lines[most_lines - 1].rstrip() + " …", width, size_pt, bold=bold)
            lines = [*lines[: most_lines - 1], cut]
        return [line.rstrip() for line in lines]

    def _fitting(self, unit: str, width: float, size_pt: float, *, bold: bool) -> list[str]:
        """A word in pieces that fit a line; most words are one."""
        if self.width_of(unit.rstrip(), size_pt, bold=bold) <= width:
            return [unit]
        pieces = [""]
        for cluster in clusters(unit):
            if pieces[-1] and self.width_of(pieces[-1] + cluster, size_pt, bold=bold) > width:
                pieces.append("")
            pieces[-1] += cluster
        return pieces

    def _cut(self, text: str, width: float, size_pt: float, *, bold: bool) -> str:
        """The text, or as much of its start as fits with an ellipsis."""
        if self.width_of(text, size_pt, bold=bold) <= width:
            return text
        parts = clusters(text)
        low, high = 0, len(parts)
        while low < high:
            middle = (low + high + 1) // 2
            fits = self.width_of("".join(parts[:middle]).rstrip(" …") + "…", size_pt, bold=bold) <= width
            low, high = (middle, high) if fits else (low, middle - 1)
        return "".join(parts[:low]).rstrip(" …") + "…"

    def picture(self, data: bytes, x: float, y: float, width: float, height: float, *, alt: str) -> None:
        """A JPEG or PNG picture; the same data is stored once, however often it is shown."""
        with self.tagged("Figure", alt=alt):
            self.image(data, x, y, width, height)

    def badge(self, x: float, y: float, text: str) -> None:
        """A number on a disc at a place on a picture."""
        with self.decoration():
            self.set_draw_color(40)
            self.set_fill_color(255)
            self.set_line_width(0.25)
            self.circle(x, y, 1.7, style="DF")
        self.line_of_text(text, x, y - line_height(7) / 2, size_pt=7, bold=True, align="middle")


def line_height(size_pt: float) -> float:
    """From line to line, mm."""
    return 1.36 * size_pt * MM_PER_POINT
