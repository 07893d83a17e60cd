"""Letters on the page: in the right order and shape, broken into lines and cut off where they must be.

The truth for each script is written by hand as glyphs from left to right, in forms that need no
shaping, and drawn by another library without any.
"""

from __future__ import annotations

import io
from importlib.resources import files

import numpy as np
import pypdfium2
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from render.proof.typesetting import Sheets, line_height

SIZE_PT = 24.0
PX_PER_PT = 4.0


def drawn(text: str) -> NDArray[np.float64]:
    """A line as the page shows it: ink in [0, 1], cut to what is inked."""
    sheets = Sheets(title="", language="en", subject="", texts=(text,))
    sheets.new_page(150, 30)
    sheets.line_of_text(text, 10, 8, size_pt=SIZE_PT)
    page = pypdfium2.PdfDocument(bytes(sheets.output()))[0].render(scale=PX_PER_PT)
    return trimmed(1.0 - np.asarray(page.to_pil().convert("L"), float) / 255.0)


def by_hand(*parts: tuple[str, str]) -> NDArray[np.float64]:
    """Glyphs and their fonts from left to right as they stand, without shaping or reordering."""
    image = Image.new("L", (1800, 300))
    left = 100.0
    for glyphs, font in parts:
        data = io.BytesIO(files("render.fonts").joinpath(f"{font}.ttf").read_bytes())
        face = ImageFont.truetype(data, SIZE_PT * PX_PER_PT, layout_engine=ImageFont.Layout.BASIC)
        ImageDraw.Draw(image).text((left, 160), glyphs, fill=255, font=face, anchor="ls")
        left += face.getlength(glyphs)
    return trimmed(np.asarray(image, float) / 255.0)


def trimmed(ink: NDArray[np.float64]) -> NDArray[np.float64]:
    rows, cols = np.flatnonzero(ink.max(1) > 0.5), np.flatnonzero(ink.max(0) > 0.5)
    return ink[rows[0] : rows[-1] + 1, cols[0] : cols[-1] + 1]


def likeness(one: NDArray[np.float64], other: NDArray[np.float64]) -> float:
    """Correlation of two pictures of ink, at the best of shifts by two pixels; 0 for other sizes."""
    if any(abs(a - b) > 0.03 * b + 3 for a, b in zip(one.shape, other.shape, strict=True)):
        return 0.0
    rows, cols = (max(sides) + 4 for sides in zip(one.shape, other.shape, strict=True))
    fixed = np.zeros((rows, cols))
    fixed[2 : 2 + other.shape[0], 2 : 2 + other.shape[1]] = other
    found = []
    for down in range(5):
        for across in range(5):
            moved = np.zeros((rows + 4, cols + 4))
            moved[down : down + one.shape[0], across : across + one.shape[1]] = one
            found.append(np.corrcoef(moved[:rows, :cols].ravel(), fixed.ravel())[0, 1])
    return float(max(found))


LATIN, HEBREW, ARABIC = "NotoSans-Regular", "NotoSansHebrew-Regular", "NotoSansArabic-Regular"


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("Łódź", [("Łódź", LATIN)]),
        ("Нижин", [("Нижин", LATIN)]),
        # From right to left, so the last letter comes first.
        ("שלום", [("םולש", HEBREW)]),
        # A number keeps its order within; it is read after the word, so it stands left of it.
        ("שלום 123", [("123 ", LATIN), ("םולש", HEBREW)]),
        # Meem on its own, lam and alef joined and tied to the letter before, seen at its start.
        ("سلام", [("\ufee1\ufefc\ufeb3", ARABIC)]),
        ("بيت", [("\ufe96\ufef4\ufe91", ARABIC)]),
        # The short i stands before the letter that it is spoken after.
        ("कि", [("िक", "NotoSansDevanagari-Regular")]),
        ("สวย", [("สวย", "NotoSansThai-Regular")]),
        ("上海刺绣", [("上海刺绣", "TwillightHan")]),
        ("한국어", [("한국어", "TwillightHangul")]),
    ],
)
def test_letters_stand_in_the_right_order_and_shape(text: str, parts: list[tuple[str, str]]) -> None:
    assert likeness(drawn(text), by_hand(*parts)) > 0.9


@pytest.mark.parametrize(
    ("text", "wrong", "font"),
    [
        ("שלום", "שלום", HEBREW),
        ("بيت", "تيب", ARABIC),
        ("कि", "कि", "NotoSansDevanagari-Regular"),
    ],
)
def test_the_comparison_tells_wrong_order_and_shape(text: str, wrong: str, font: str) -> None:
    assert likeness(drawn(text), by_hand((wrong, font))) < 0.8


@pytest.fixture(scope="module")
def sheets() -> Sheets:
    made = Sheets(title="", language="en", subject="", texts=(LONG, HAN))
    made.new_page(100, 100)
    return made


LONG = "Otter & Oar Rowing Club needs thirty-six polos by Friday, left chest, gold on bottle green"
HAN = "上海刺绣，确认稿：请核对文字、颜色、尺寸和位置。"


@pytest.mark.parametrize("width", [12.0, 25.0, 60.0])
@pytest.mark.parametrize("text", [LONG, HAN, "x" * 300, "नमस्ते" * 40])
def test_lines_fit_and_together_are_the_text(sheets: Sheets, text: str, width: float) -> None:
    lines = sheets.wrapped(text, width, 9.0)
    assert all(sheets.width_of(line, 9.0) <= width for line in lines)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")
    assert not any(line[0] in "，：、。" for line in lines)


def test_words_stay_whole_where_a_line_can_hold_them(sheets: Sheets) -> None:
    assert " ".join(sheets.wrapped(LONG, 40.0, 9.0)) == LONG


def test_what_is_too_much_ends_in_an_ellipsis(sheets: Sheets) -> None:
    lines = sheets.wrapped(LONG, 40.0, 9.0, most_lines=2)
    assert len(lines) == 2
    assert lines[1].endswith("…")
    assert LONG.startswith(" ".join(lines)[:-1].rstrip())
    assert all(sheets.width_of(line, 9.0) <= 40.0 for line in lines)


def test_signs_without_a_glyph_are_shown_as_missing(sheets: Sheets) -> None:
    assert sheets.width_of("\U0001f9f5", 9.0) == sheets.width_of("\ufffd", 9.0) > 0


def test_a_font_keeps_its_size_after_text_in_another_script() -> None:
    made = Sheets(title="", language="en", subject="", texts=("上海",))
    made.new_page(100, 100)
    for number, text in enumerate(["abc", "上海", "abc"]):
        made.line_of_text(text, 10, 10 + 20 * number, size_pt=8.0)
        made.width_of(text, 30.0)
    page = pypdfium2.PdfDocument(bytes(made.output()))[0].render(scale=4.0)
    ink = np.asarray(page.to_pil().convert("L")) < 128
    rows = [trimmed(ink[round((10 + 20 * at) / 25.4 * 72 * 4) :][:120].astype(float)) for at in (0, 2)]
    assert rows[0].shape == rows[1].shape


def test_lines_are_as_far_apart_as_said(sheets: Sheets) -> None:
    below = sheets.paragraph(LONG, 5, 5, 40, size_pt=9.0)
    assert below - 5 == pytest.approx(len(sheets.wrapped(LONG, 40, 9.0)) * line_height(9.0))


def test_parts_of_a_line_keep_their_places_whatever_way_they_run() -> None:
    parts = ["crest.dst", "מועדון 2041", "נהר (Otter)"]
    made = Sheets(title="", language="en", subject="", texts=parts)
    made.new_page(150, 30)
    made.parts_of_line(parts, 140, 8, size_pt=9.0, ink=(0.0, 0.0, 0.0), width=120)
    page = pypdfium2.PdfDocument(bytes(made.output()))[0].get_textpage()
    left = [page.get_charbox(page.search(word).get_next()[0])[0] for word in ("crest", "2041", "Otter")]
    assert left == sorted(left)
    assert page.get_charbox(page.count_chars() - 1)[2] < 141 / 25.4 * 72


def test_wrapped_text_that_runs_from_the_right_starts_there() -> None:
    text = "שלום עולם " * 12
    made = Sheets(title="", language="en", subject="", texts=(text,))
    made.new_page(150, 60)
    made.paragraph(text, 20, 8, 60, size_pt=9.0)
    page = pypdfium2.PdfDocument(bytes(made.output()))[0].render(scale=4.0)
    ink = np.flatnonzero((np.asarray(page.to_pil().convert("L")) < 128).any(0)) / 4 / 72 * 25.4
    assert ink[-1] == pytest.approx(80, abs=0.5)
    assert ink[0] >= 20
