"""`twillight pull` as a shop meets it."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from PIL import Image

from render.cli import run

WORDMARK = str(Path(__file__).parents[2] / "examples" / "wordmark.vp3")


def pull(*arguments: object) -> int:
    return run(["pull", WORDMARK, *map(str, arguments)])


def test_table_says_total_and_per_side(capsys: pytest.CaptureFixture[str]) -> None:
    assert pull("--fabric", "jersey") == 0
    text = capsys.readouterr().out
    assert "neighbours shift against each other by up to" in text
    found = re.search(r"(\d\.\d\d) mm in all, (\d\.\d\d) each side", text)
    assert found is not None
    assert float(found[1]) == pytest.approx(2 * float(found[2]), abs=0.011)
    assert "a sewn sample on the real cloth decides" in text


def test_softer_cloth_pulls_more(capsys: pytest.CaptureFixture[str]) -> None:
    widths = []
    for fabric in ("twill", "jersey"):
        assert pull("--fabric", fabric, "--json") == 0
        objects = json.loads(capsys.readouterr().out)["objects"]
        widths.append([one["pull_in_mm"]["likely"] for one in objects if one["kind"] == "satin"])
    assert sum(widths[0]) < sum(widths[1])


def test_picture_is_written_and_not_replaced(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "pull.png"
    assert pull("--fabric", "jersey", "-o", out) == 0
    with Image.open(out) as picture:
        assert picture.width == 1800
    data = out.read_bytes()
    capsys.readouterr()
    assert pull("-o", out) == 2
    assert "is there already" in capsys.readouterr().err
    assert out.read_bytes() == data


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (("--fabric", "jersy"), 65, "did you mean jersey"),
        (("--stabiliser", "paper"), 65, "--stabiliser 'paper' is not known"),
        (("-o", "x.doc"), 2, "names no picture format"),
    ],
)
def test_what_makes_no_sense_gets_one_sentence(
    arguments: tuple[object, ...], code: int, words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert pull(*arguments) == code
    error = capsys.readouterr().err
    assert words in error
    assert error.count("\n") == 1
