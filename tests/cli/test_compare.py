"""`twillight compare` as a shop meets it."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from render.cli import run
from render.compare import _between

WORDMARK = str(Path(__file__).parents[2] / "examples" / "wordmark.vp3")


def compare(*arguments: object) -> int:
    return run(["compare", WORDMARK, *map(str, arguments)])


def test_figures_order_as_the_cloths_do(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Common practice, no source: denim pulls in least, then twill, jersey, fleece."""
    names = "denim,twill,jersey,sweatshirt-fleece"
    assert compare("--fabrics", names, "--json") == 0
    cloths = json.loads(capsys.readouterr().out)["cloths"]
    assert [one["fabric"] for one in cloths] == names.split(",")
    pulls = [one["satin_pull_in_mm"] for one in cloths]
    assert pulls == sorted(pulls)
    for one in cloths:
        assert sum(one["pucker_share"].values()) == pytest.approx(1, abs=2e-3)
        assert one["width_mm"] > 60


@pytest.mark.slow
def test_all_cloths_stand_side_by_side_at_one_scale(tmp_path: Path) -> None:
    out = tmp_path / "sheet.png"
    assert compare("--fabrics", "twill,jersey", "-o", out) == 0
    two = Image.open(out)
    assert two.width == 1800
    assert compare("--fabrics", "twill,jersey,denim,pique", "-o", tmp_path / "four.png") == 0
    assert Image.open(tmp_path / "four.png").width == 1800


@pytest.mark.parametrize(
    ("fabrics", "code", "words"),
    [
        ("twill", 2, "name two or more"),
        ("twill,jersey,twill", 2, "twill stands twice"),
        ("twill,jersy", 65, "did you mean jersey?"),
        ("twil,jersy", 2, "there are no fabrics twil, jersy"),
    ],
)
def test_what_cannot_be_compared_gets_one_sentence(
    fabrics: str, code: int, words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert compare("--fabrics", fabrics) == code
    error = capsys.readouterr().err
    assert words in error
    assert error.count("\n") == 1


def test_nothing_is_replaced_unasked(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "sheet.png"
    out.write_bytes(b"mine")
    assert compare("--fabrics", "twill,jersey", "-o", out) == 2
    assert out.read_bytes() == b"mine"
    assert "--force" in capsys.readouterr().err


def test_a_design_narrower_than_a_cell_of_the_cloth_has_its_pucker() -> None:
    lines = np.array([0.0, 1.0, 2.0])
    assert _between(lines, 0.2, 0.7).tolist() == [True, False, False]
    assert _between(lines, 0.2, 2.0).tolist() == [False, True, True]
