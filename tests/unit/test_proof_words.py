"""The words of a proof's PDF: in every script, of every language, hostile ones too."""

from __future__ import annotations

import io
import unicodedata
from collections.abc import Iterator
from functools import cache

import numpy as np
import pypdfium2
import pytest
from pdfminer.high_level import extract_pages
from pdfminer.layout import LTChar, LTTextLine
from proof_pages import MM, SCRIPTS, boxes, proof, with_order
from pypdf import PdfReader

from render.proof.pdf import proof_pdf
from render.proof.wording import languages, words_in

HOSTILE = {
    "shop": "<script>alert(1)</script> **bold** " * 40,
    "customer": "\u202eevil\u202c\x00\x1b[2J (\\) endobj %%EOF stream " + "x" * 5000,
    "order": "{name} %s ${7*7} ]]>&amp;<!-- --> /JS (app.alert(1)) {{x}}",
    "garment": "🧵😀 \ufdd0\U0010ffff polo",
    "placement": "نص طويل " * 300,
    "size": "W" * 500,
    "quantity": "上海" * 400,
    "due": "a\u0300\u0301\u0302" * 200,
    "notes": "\n".join(["line\r\n\f\v\u2028 of many"] * 500),
    "revision": "</x:xmpmeta><?xpacket end='w'?>" * 5,
}


@pytest.mark.parametrize("language", list(languages()))
def test_title_language_and_tags(language: str) -> None:
    data = proof_pdf(with_order(proof(), SCRIPTS, language), operator=True)
    reader = PdfReader(io.BytesIO(data))
    root = reader.trailer["/Root"]
    assert root["/Lang"] == language  # type: ignore[index]
    assert root["/MarkInfo"]["/Marked"]  # type: ignore[index]
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]  # type: ignore[index]
    assert root["/ViewerPreferences"]["/PrintScaling"] == "/None"  # type: ignore[index]
    assert reader.metadata is not None
    assert "نادي التجديف" in str(reader.metadata.title)
    parts = [part.get_object() for part in root["/StructTreeRoot"]["/K"][0].get_object()["/K"]]  # type: ignore[index]
    assert {"/H1", "/H2", "/P", "/Figure"} <= {part["/S"] for part in parts}
    assert all(len(str(part["/Alt"])) > 3 for part in parts if part["/S"] == "/Figure")
    text = " ".join(pypdfium2.PdfDocument(data)[1].get_textpage().get_text_range().split())
    assert words_in(language).say("operator", "caution").replace(" ", "") in text.replace(" ", "")


@pytest.mark.parametrize("word", ["Ателье", "Łódź", "نادي", "חתירה", "上海刺绣", "नमस्ते", "สามสิบหก", "한국어"])
def test_text_in_every_script_is_found(word: str) -> None:
    assert word in _text_of_scripts()


@cache
def _text_of_scripts() -> str:
    data = proof_pdf(with_order(proof(), SCRIPTS))
    return str(pypdfium2.PdfDocument(data)[0].get_textpage().get_text_range())


def test_hostile_words_are_text_within_the_page_and_over_nothing_else() -> None:
    data = proof_pdf(with_order(proof(), HOSTILE), operator=True)
    reader = PdfReader(io.BytesIO(data))
    assert len(reader.pages) == 2
    assert not any(page.get("/Annots") for page in reader.pages)
    names = set(_keys(reader.trailer["/Root"]))
    assert not names & {"/JS", "/JavaScript", "/AA", "/URI", "/Launch", "/AcroForm", "/XFA"}
    # Where it is opened, as some versions of the library say, is a place and no action.
    assert isinstance(reader.trailer["/Root"].get("/OpenAction", []), list)
    assert not names & {"/EmbeddedFiles"}
    text = pypdfium2.PdfDocument(data)[0].get_textpage().get_text_range()
    assert "<script>alert(1)</script> **bold**" in text
    assert "{name}" in text
    for page in extract_pages(io.BytesIO(data)):
        signs = list(boxes(page, LTChar))
        assert min(one.x0 for one in signs) > 10 * MM
        assert max(one.x1 for one in signs) < page.width - 10 * MM
        assert min(one.y0 for one in signs) > 5 * MM
        assert max(one.y1 for one in signs) < page.height - 5 * MM
    for number in range(2):
        assert _overlaps(data, number) == []


def test_the_check_for_overlaps_finds_one() -> None:
    from render.proof.typesetting import Sheets

    sheets = Sheets(title="", language="en", subject="", texts=())
    sheets.new_page(100, 100)
    sheets.line_of_text("one line of text", 10, 10)
    sheets.line_of_text("and one over it", 20, 11)
    assert len(_overlaps(bytes(sheets.output()), 0)) == 1


def _overlaps(data: bytes, number: int) -> list[tuple[str, str]]:
    """Pairs of lines whose x-heights meet, by the boxes of their signs."""
    pages = list(extract_pages(io.BytesIO(data)))
    lines = []
    for line in boxes(pages[number], LTTextLine):
        signs = [one for one in boxes(line, LTChar) if _stands_alone(one.get_text())]  # type: ignore[arg-type, attr-defined]
        if signs:
            base = float(np.median([one.y0 + 0.25 * one.height for one in signs]))
            box = (min(s.x0 for s in signs), base, max(s.x1 for s in signs), base + 0.4 * signs[0].height)
            lines.append((box, line.get_text().strip()))  # type: ignore[attr-defined]
    return [
        (one[1], two[1])
        for at, one in enumerate(lines)
        for two in lines[at + 1 :]
        if min(one[0][2], two[0][2]) > max(one[0][0], two[0][0]) + 0.5
        and min(one[0][3], two[0][3]) > max(one[0][1], two[0][1]) + 0.3
    ]


def _stands_alone(text: str) -> bool:
    """Whether a sign takes a place of its own: marks are set over others on purpose."""
    return bool(text.strip()) and not any(unicodedata.category(one).startswith("M") for one in text)


def _keys(value: object, depth: int = 0) -> Iterator[str]:
    """Names of all dictionary entries under a PDF object, but for the way up."""
    if hasattr(value, "get_object"):
        value = value.get_object()
    if isinstance(value, dict) and depth < 12:
        for key, inner in value.items():
            yield key
            if key not in ("/Parent", "/P", "/Pg"):
                yield from _keys(inner, depth + 1)
    elif isinstance(value, list) and depth < 12:
        for inner in value:
            yield from _keys(inner, depth + 1)
