"""`twillight swatch`: what it writes, says and refuses."""

from __future__ import annotations

from pathlib import Path

import pytest
from PIL import Image

from render.cli import run
from render.read import read_design


def test_swatch_writes_the_file_and_the_list_and_says_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "test.pes"
    assert run(["swatch", "-o", str(out)]) == 0
    said = capsys.readouterr()
    assert said.err == ""
    assert said.out.splitlines() == [
        f"{out}: 3,250 stitches, 93 x 83 mm, one colour, 42 columns",
        f"{tmp_path / 'test.csv'}: their programmed widths; write the widths you read beside them",
        f"then: twillight fit {tmp_path / 'test.csv'} --fabric NAME -o my-fabric.toml",
    ]
    assert read_design(out).format == "pes"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["test.csv", "test.pes"]


@pytest.mark.parametrize("ending", ["pdf", "png"])
def test_the_sheet_is_written_too(tmp_path: Path, capsys: pytest.CaptureFixture[str], ending: str) -> None:
    sheet = tmp_path / f"sheet.{ending}"
    assert run(["swatch", "-o", str(tmp_path / "s.dst"), "--sheet", str(sheet)]) == 0
    assert f"{sheet}: how to sew and measure; print it at 100 %" in capsys.readouterr().out
    if ending == "pdf":
        assert sheet.read_bytes().startswith(b"%PDF-")
    else:
        assert Image.open(sheet).size == (2480, 3508)


@pytest.mark.parametrize("there", ["s.dst", "s.csv", "sheet.pdf"])
def test_swatch_replaces_nothing_unasked(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], there: str
) -> None:
    (tmp_path / there).write_text("mine")
    command = ["swatch", "-o", str(tmp_path / "s.dst"), "--sheet", str(tmp_path / "sheet.pdf")]
    assert run(command) == 2
    assert "is there already" in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == [there]
    assert (tmp_path / there).read_text() == "mine"
    assert run([*command, "--force"]) == 0
    assert (tmp_path / there).read_bytes() != b"mine"


@pytest.mark.parametrize(
    ("arguments", "code", "says"),
    [
        (["-o", "s.txt"], 2, "'s.txt' names no stitch format that can be written: end it in .dst"),
        (["-o", "s.dst", "--sheet", "s.docx"], 2, "end it in .pdf or .png"),
        (["-o", "nowhere/s.dst"], 74, "there is no folder nowhere"),
    ],
)
def test_swatch_refuses(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    arguments: list[str],
    code: int,
    says: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    assert run(["swatch", *arguments]) == code
    error = capsys.readouterr().err
    assert says in error
    assert error.count("\n") == 1
    assert not list(tmp_path.iterdir())
