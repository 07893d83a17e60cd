"""Whatever a shop writes, in whatever signs, it is set on a page that readers can open."""

from __future__ import annotations

import json
from base64 import b64encode

import pypdfium2
from hypothesis import example, given, settings
from hypothesis import strategies as st

from render.proof.carried import MARK, find_record
from render.proof.line_breaks import clusters, units_of
from render.proof.order_text import LONGEST, shown_text
from render.proof.typesetting import Sheets

WORDS = st.text(max_size=60) | st.text("שלום سلام नमस्ते 上海 한국 ที่ á(]\u200d\u202e\u0301", max_size=60)


@given(WORDS)
@example("\u202e\u2066")
def test_cleaned_words_hold_no_control_and_clean_no_further(text: str) -> None:
    shown = shown_text(text)
    assert shown_text(shown) == shown
    assert len(shown) <= LONGEST
    assert not any(
        ord(sign) < 32 or 0x202A <= ord(sign) <= 0x202E or 0x2066 <= ord(sign) <= 0x2069 for sign in shown
    )


@given(WORDS)
def test_breaking_loses_nothing(text: str) -> None:
    assert "".join(clusters(text)) == text
    assert "".join(units_of(text)) == text


@settings(max_examples=10)
@given(st.lists(WORDS, min_size=1, max_size=4), st.floats(8, 120))
def test_any_words_make_a_page_with_every_line_in_its_column(texts: list[str], width: float) -> None:
    shown = [shown_text(text) for text in texts]
    sheets = Sheets(title=shown[0], language="en", subject="", texts=shown)
    sheets.new_page(210, 297)
    for number, text in enumerate(shown):
        lines = sheets.wrapped(text, width, 9.0, most_lines=3)
        assert len(lines) <= 3
        assert all(sheets.width_of(line, 9.0) <= width + 1e-6 or len(clusters(line)) == 1 for line in lines)
        sheets.paragraph(text, 20, 20 + 60 * number, width, most_lines=3)
    assert len(pypdfium2.PdfDocument(bytes(sheets.output()))) == 1


@settings(max_examples=200)
@given(
    st.recursive(
        st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
        lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=12), inner, max_size=6),
    )
    | st.fixed_dictionaries(
        {
            "version": st.just(1),
            "name": st.text(max_size=3) | st.integers(),
            "revision": st.text(max_size=3),
            "stitches": st.integers(-2, 5) | st.text(max_size=2),
            "width_mm": st.floats() | st.none(),
            "height_mm": st.floats(),
            "settings": st.dictionaries(st.text(max_size=3), st.text(max_size=3) | st.none(), max_size=2),
            "fingerprints": st.fixed_dictionaries(
                {
                    "file": st.text(max_size=3),
                    "stitches": st.text(max_size=3),
                    "points": st.integers(-1, 2**40),
                    "halts": st.lists(st.integers(-1, 3), max_size=3) | st.none(),
                    "path": st.text("AQ=x", max_size=8),
                }
            ),
        }
    )
)
def test_any_json_is_a_whole_record_or_none(value: object) -> None:
    packed = b64encode(json.dumps(value).encode()).decode()
    record = find_record(f"{MARK}:{packed}:".encode())
    if record is not None:
        assert isinstance(record["fingerprints"]["path"], str)
        assert all(isinstance(text, str) for text in record["settings"].values())


@given(st.binary(max_size=400))
@example(b"stream\n" + b"\x78\x9c" * 100)
def test_any_bytes_are_looked_through_without_harm(data: bytes) -> None:
    assert find_record(data) is None
