"""Thread lists, changes by colour block, and the palette where there are none."""

from __future__ import annotations

from pathlib import Path

import pytest

from render.colour import hex_colour
from render.errors import InputError, UsageError
from render.materials.presets import preset
from render.materials.threads import (
    load_threads,
    parse_override,
    threads_for,
)
from render.model import Thread, ThreadChange

RED, NAVY = (1.0, 0.0, 0.0), (0.0, 0.0, 128 / 255)


LISTED = (
    Thread((192 / 255, 32 / 255, 48 / 255), "rayon", 25.0, 1.49, 0.65, "Our, red", 3),
    Thread(NAVY, "matte-polyester", 1000 / 60, 1.39, 0.62, "", None),
)
TOML = """
[[thread]]
colour = "#c02030"
size = "40 wt"
label = "Our, red"
needle = 3
[[thread]]
colour = "navy"
kind = "matte-polyester"
size = "60 wt"
"""
CSV = """Colour,kind,size,label,needle
#c02030,,40 wt,"Our, red",3
navy,matte-polyester,60 wt
"""


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("list.toml", TOML),
        ("list.toml", TOML.replace("colour", "color")),
        ("list.csv", CSV),
        ("list.CSV", "\ufeff" + CSV.replace("\n", "\r\n")),
        ("list.csv", CSV.replace(",", ";").replace("Our; red", "Our, red")),
        ("list.csv", CSV.replace(",", "\t").replace("Our\t red", "Our, red")),
        ("list.csv", CSV.replace("matte-polyester", "Matte polyester")),
    ],
)
def test_lists(tmp_path: Path, name: str, text: str) -> None:
    (tmp_path / name).write_bytes(text.encode())
    assert load_threads(str(tmp_path / name)) == LISTED


def test_a_label_is_text_and_nothing_else(tmp_path: Path) -> None:
    label = "<script>alert(1)</script>\n=cmd|' /C calc'!A0 {fabric} \u202e%s"
    (tmp_path / "a.csv").write_text(f'colour,label\nred,"{label}"\n', newline="")
    assert load_threads(str(tmp_path / "a.csv"))[0].label == label


@pytest.mark.parametrize(
    ("name", "text", "message"),
    [
        ("a.toml", "", "lists no threads"),
        ("a.toml", "thread = 3", "lists no threads"),
        ("a.toml", "thread = [1]", "lists no threads"),
        ("a.toml", "[[threads]]\ncolour = 'red'", "'threads' is not known here; did you mean 'thread'"),
        ("a.toml", "[[thread]]\ncolour = ", "not valid TOML"),
        ("a.toml", "[[thread]]\nkind = 'rayon'", "thread 1 has no colour: give it one"),
        ("a.toml", "[[thread]]\ncolour = 'red'\n[[thread]]\ncolour = 'redd'", "2: 'redd' is no colour"),
        ("a.toml", "[[thread]]\ncolour = 'red'\nkinds = 'rayon'", "did you mean 'kind'"),
        ("a.toml", "[[thread]]\ncolour = 'red'\nkind = 'silk'", "is no kind of thread: choose one of cotton"),
        ("a.toml", "[[thread]]\ncolour = 'red'\nkind = ['rayon']", "kind must be text"),
        ("a.toml", "[[thread]]\ncolour = 'red'\nsize = 40", "size must be text"),
        ("a.toml", "[[thread]]\ncolour = 'red'\ntwist = 'Q 3'", "twist 'Q 3' must be Z or S"),
        ("a.toml", "[[thread]]\ncolour = 'red'\ntwist = 'Z 9999'", "twist 'Z 9999' must be Z or S"),
        ("a.toml", "[[thread]]\ncolour = 'red'\ntwist = 550", "twist must be text in quotes"),
        ("a.toml", "[[thread]]\ncolour = 'red'\nneedle = inf", "needle inf must be a whole number"),
        ("a.toml", "[[thread]]\ncolour = 'red'\nneedle = 1.5", "needle 1.5 must"),
        ("a.toml", "[[thread]]\ncolour = 'red'\nneedle = true", "needle True must"),
        ("a.toml", "[[thread]]\ncolour = 'red'\nneedle = 0", "needle 0 must"),
        ("a.toml", "x = " + "[" * 5000, "too deeply"),
        ("a.toml", "x = " + "9" * 5000, "not valid TOML"),
        ("a.toml", "#" * 1_000_001, "over 1 MB"),
        ("a.csv", "colour\n", "lists no threads"),
        ("a.csv", "colour,needle\nred,two\n", "needle 'two' must"),
        ("a.csv", "colour,needle\nred,2,gold\n", "more cells than headings"),
        ("a.csv", "colour,price\nred,2\n", "'price' is not known here"),
        ("a.csv", "colour\n" + "r" * 200_000, "not a CSV table"),
        ("a.csv", 'colour,label\nred,"never closed\nblue,b\n', "not a CSV table"),
        ("a.csv", "colour,Colour\nred,blue\n", "a heading stands twice"),
        ("a.csv", "colour,label\nred,a\n,b\n", "thread 2 has no colour"),
    ],
    ids=lambda value: value[:40],
)  # fmt: skip
def test_lists_that_cannot_be_used(tmp_path: Path, name: str, text: str, message: str) -> None:
    (tmp_path / name).write_text(text)
    with pytest.raises(InputError) as error:
        load_threads(str(tmp_path / name))
    assert message in str(error.value)
    assert name in str(error.value)
    assert "\n" not in str(error.value)


@pytest.mark.parametrize(
    "data",
    [
        b"colour;needle\nred;2\n;\n;\n",  # empty lines of a spreadsheet
        b"\xef\xbb\xbf\r\ncolour\tneedle\r\nred\t2\r\n",
    ],
    ids=["empty lines at the end", "an empty line first, tabs, BOM, CRLF"],
)
def test_lists_as_spreadsheets_write_them(tmp_path: Path, data: bytes) -> None:
    (tmp_path / "A.CSV").write_bytes(data)
    (thread,) = load_threads(str(tmp_path / "A.CSV"))
    assert (thread.colour_srgb, thread.needle) == (RED, 2)


def test_lists_that_cannot_be_read(tmp_path: Path) -> None:
    (tmp_path / "latin.csv").write_bytes(b"colour,label\nred,\xe9\n")
    with pytest.raises(InputError, match="not text in UTF-8"):
        load_threads(str(tmp_path / "latin.csv"))
    (tmp_path / "book.xlsx").write_bytes(b"PK\x03\x04\x14\0")
    with pytest.raises(InputError, match="is a workbook or an archive, not text: save its sheet as CSV"):
        load_threads(str(tmp_path / "book.xlsx"))
    for missing in (tmp_path / "none.csv", tmp_path, tmp_path / ("n" * 300), "a\0b.toml"):
        with pytest.raises(InputError, match="cannot read the thread list"):
            load_threads(str(missing))


def test_changes_by_block() -> None:
    assert parse_override("1,4=navy") == {0: ThreadChange(NAVY), 3: ThreadChange(NAVY)}
    assert parse_override(" 3 = #F00  matte-polyester   60 wt ") == {
        2: ThreadChange(RED, "matte-polyester", 1000 / 60)
    }
    assert parse_override("2=red tex 30") == {1: ThreadChange(RED, None, 30.0)}
    assert parse_override("2=red trilobal polyester") == {1: ThreadChange(RED, "trilobal-polyester", None)}
    assert parse_override("2=red Cotton") == {1: ThreadChange(RED, "cotton", None)}
    white = parse_override("1=lab(100 0 0) metallic")[0]
    assert hex_colour(white.colour_srgb) == "#ffffff"
    assert white.kind == "metallic"


@pytest.mark.parametrize(
    "text",
    ["", "=", "red", "1=", "=red", "0=red", "-1=red", "1,=red", "a=red", "1=reddd", "1=red silk",
     "1=red 40", "1=lab(100 0 0)metallic", "1=navy a\nb", "9" * 5000 + "=red", "²=red", "1=lab(5 5"],
)  # fmt: skip
def test_changes_that_make_no_sense(text: str) -> None:
    with pytest.raises(UsageError) as error:
        parse_override(text)
    assert str(error.value).startswith("--thread ")
    assert "\n" not in str(error.value)
    assert len(str(error.value)) < 300


def test_list_before_file_before_palette() -> None:
    found, notes = threads_for(4, [NAVY, RED, None], LISTED[:1], {})
    assert found[0] == LISTED[0]
    assert found[1].colour_srgb == RED
    assert found[1].kind == "rayon"
    palette = preset("threads.toml")["palette"]["colours"]
    assert [hex_colour(thread.colour_srgb) for thread in found[2:]] == palette[2:4]
    assert any("blocks 3, 4" in note and "our own choice" in note for note in notes)
    assert any("the thread list has 1 thread, the design 4" in note for note in notes)


def test_nothing_to_note_when_every_colour_is_known() -> None:
    assert threads_for(2, [RED, NAVY], (), {})[1] == ()
    assert threads_for(2, [None, None], LISTED, {})[1] == ()
    assert threads_for(1, [None], (), {0: ThreadChange(RED)})[1] == ()


def test_a_list_that_is_too_long_is_noted() -> None:
    found, notes = threads_for(1, [None], LISTED, {})
    assert found == LISTED[:1]
    assert "the last are unused" in notes[0]


def test_a_change_keeps_what_it_does_not_name() -> None:
    changes = {0: ThreadChange(NAVY), 1: ThreadChange(RED, "cotton", 30.0)}
    (first, second), _ = threads_for(2, [], LISTED, changes)
    assert (first.colour_srgb, first.kind, first.tex, first.label) == (NAVY, "rayon", 25.0, "Our, red")
    assert (second.kind, second.tex, second.density_g_per_cm3) == ("cotton", 30.0, 1.52)


def test_a_change_to_a_block_that_is_not_there() -> None:
    with pytest.raises(InputError, match="no colour block 3 to give a thread: the design has 2"):
        threads_for(2, [RED, RED], (), {2: ThreadChange(NAVY)})


def test_the_palette_is_twelve_different_colours() -> None:
    palette = preset("threads.toml")["palette"]["colours"]
    assert len(set(palette)) == len(palette) == 12
    many, _ = threads_for(30, [], (), {})
    assert hex_colour(many[12].colour_srgb) == palette[0]


@pytest.mark.parametrize(("text", "turns"), [("Z 550", 550.0), ("s620", -620.0), (None, 550.0)])
def test_twist_is_turns_a_metre_and_negative_for_s(tmp_path: Path, text: str | None, turns: float) -> None:
    path = tmp_path / "own.toml"
    path.write_text("[[thread]]\ncolour = 'red'\n" + (f"twist = '{text}'\n" if text else ""))
    (thread,) = load_threads(str(path))
    assert thread.twist_per_m == turns
