"""`twillight draw`: what it prints, writes and refuses."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

import render.preview  # noqa: F401 - so that tests can replace a part of it
from render.cli import run

SMALL = ["--dpi", "60"]


def draw(*arguments: str | Path) -> int:
    return run(["draw", *map(str, arguments), *SMALL])


def test_one_command_makes_a_picture(dst: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "two.png"
    assert draw(dst, "-o", out) == 0
    image = Image.open(out)
    assert image.info["Description"] == "simulated preview"
    # 23 mm by 19.6 mm of stitches with 6 mm around, at 60 dpi.
    assert image.size == (round(35 / 25.4 * 60), round(31.6 / 25.4 * 60))
    said = capsys.readouterr()
    assert "two" in said.out
    assert "2 colour blocks" in said.out
    assert said.err == ""


def test_json_is_one_object_with_the_facts(
    dst: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert draw(dst, "-o", tmp_path / "two.png", "--json", "--thread", "1=#c02030", "--thread", "2=navy") == 0
    account = json.loads(capsys.readouterr().out)
    assert account["format"] == "DST"
    assert account["stitches"] == 147
    assert account["colour_blocks"] == 2
    assert account["objects"] >= 3
    assert account["object_kinds"].keys() == {"satin"}
    assert (account["width_mm"], account["height_mm"]) == (23.0, 19.6)
    assert account["trims"] == 0
    assert [thread["colour"] for thread in account["threads"]] == ["#c02030", "#000080"]
    assert all(thread["words"] and thread["kind"] and thread["tex"] > 0 for thread in account["threads"])
    (jump,) = account["uncut_jumps"]
    assert jump["from_mm"] == pytest.approx([-8.5, 9.8], abs=20)
    assert jump["length_mm"] == pytest.approx(8.0)
    assert jump["cut"] in ("no", "depends")
    assert account["seconds"] > 0
    assert isinstance(account["notes"], list)


def test_scale_from_width(dst: Path, tmp_path: Path) -> None:
    out = tmp_path / "two.png"
    assert run(["draw", str(dst), "-o", str(out), "--width-px", "140"]) == 0
    image = Image.open(out)
    assert image.width == 140
    assert image.info["dpi"][0] == pytest.approx(140 / 35 * 25.4, abs=0.02)


def test_hoop_sets_the_picture(dst: Path, tmp_path: Path) -> None:
    out = tmp_path / "two.png"
    assert draw(dst, "-o", out, "--crop-hoop", "50.8x25.4") == 0
    assert Image.open(out).size == (120, 60)


def test_turn_and_mirror(dst: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert draw(dst, "-o", tmp_path / "a.png", "--rotate", "90", "--mirror", "--json") == 0
    account = json.loads(capsys.readouterr().out)
    assert (account["width_mm"], account["height_mm"]) == (19.6, 23.0)


def test_transparent_has_a_see_through_corner_and_solid_stitches(dst: Path, tmp_path: Path) -> None:
    out = tmp_path / "two.png"
    assert draw(dst, "-o", out, "--transparent") == 0
    alpha = np.asarray(Image.open(out).getchannel("A"))
    assert alpha[0, 0] == 0
    assert alpha.max() == 255


def test_transparent_jpeg_is_laid_on_white_and_says_so(
    dst: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "two.jpg"
    assert draw(dst, "-o", out, "--transparent") == 0
    assert "no transparency" in capsys.readouterr().out
    assert Image.open(out).mode == "RGB"


def test_same_seed_same_bytes(dst: Path, tmp_path: Path) -> None:
    for name, seed in (("a", "1"), ("b", "1"), ("c", "2")):
        assert draw(dst, "-o", tmp_path / f"{name}.png", "--seed", seed) == 0
    a, b, c = ((tmp_path / f"{name}.png").read_bytes() for name in "abc")
    assert a == b
    assert a != c


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (["-o", "x.gif"], 2, ".jpg, .png, .tif or .webp"),
        (["-o", "none/x.png"], 74, "no folder"),
        (["-o", "x.png", "--dpi", "300", "--width-px", "100"], 2, "--dpi and --width-px"),
        (["-o", "x.png", "--dpi", "0"], 2, "dpi"),
        (["-o", "x.png", "--dpi", "nan"], 2, "dpi"),
        (["-o", "x.png", "--dpi", "1e9"], 2, "dpi"),
        (["-o", "x.png", "--width-px", "-3"], 2, "width"),
        (["-o", "x.png", "--margin-mm", "-1"], 2, "margin"),
        (["-o", "x.png", "--crop-hoop", "big"], 2, "100x120"),
        (["-o", "x.png", "--crop-hoop", "0x10"], 2, "hoop"),
        (["-o", "x.png", "--rotate", "inf"], 2, "rotate"),
        (["-o", "x.png", "--fabric", "gossamer"], 65, "gossamer"),
        (["-o", "x.png", "--fabric-colour", "blurple"], 65, "blurple"),
        (["-o", "x.png", "--light", "moon"], 65, "moon"),
        (["-o", "x.png", "--machine", "loom"], 65, "loom"),
        (["-o", "x.png", "--thread", "9=red"], 65, "9"),
        (["-o", "x.png", "--thread", "red"], 2, "red"),
        (["-o", "x.png", "--threads", "none.toml"], 65, "none.toml"),
        (["-o", "x.png", "--job", "none.toml"], 65, "none.toml"),
        (["-o", "x.png", "--max-stitches", "10"], 65, "more than 10"),
        (["-o", "x.png", "--max-stitches", "0"], 2, "--max-stitches"),
        (["-o", "x.png", "--max-stitches", "1" + "0" * 20], 2, "give 100000000 or fewer"),
        (["-o", "x.png", "more.dst"], 2, "more.dst"),
        (["-o", "x.png", "--bogus"], 2, "--bogus"),
    ],
)
def test_refusals_are_one_line_and_write_nothing(
    arguments: list[str],
    code: int,
    words: str,
    dst: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(tmp_path)
    assert run(["draw", str(dst), *arguments]) == code
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.count("\n") == 1
    assert said.err.startswith("twillight: ")
    assert words in said.err
    assert "Traceback" not in said.err
    assert not list(tmp_path.iterdir())


def test_existing_picture_is_kept_unless_forced(
    dst: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "two.png"
    out.write_bytes(b"kept")
    assert draw(dst, "-o", out) == 2
    assert "--force" in capsys.readouterr().err
    assert out.read_bytes() == b"kept"
    assert draw(dst, "-o", out, "--force") == 0
    assert Image.open(out).format == "PNG"


@pytest.mark.parametrize(
    ("content", "words"),
    [(b"", ""), (b"\x89PNG\r\n\x1a\n" + bytes(100), "PNG"), (b"PK\x03\x04" + bytes(100), "ZIP")],
)
def test_what_is_no_stitch_file_is_refused(
    content: bytes, words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    source = tmp_path / "odd.dst"
    source.write_bytes(content)
    assert draw(source, "-o", tmp_path / "odd.png") == 65
    said = capsys.readouterr().err
    assert words.lower() in said.lower()
    assert "odd.dst" in said
    assert said.count("\n") == 1
    assert not (tmp_path / "odd.png").exists()


def test_stitch_file_without_a_name(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert draw("", "-o", tmp_path / "x.png") == 2
    assert "name" in capsys.readouterr().err


def test_missing_stitch_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert draw(tmp_path / "none.dst", "-o", tmp_path / "x.png") == 65
    assert "none.dst" in capsys.readouterr().err


def test_fault_of_the_program_is_one_sentence(
    dst: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError("boom")

    monkeypatch.setattr(sys.modules["render.preview"], "draw_design", broken)
    assert draw(dst, "-o", tmp_path / "x.png") == 70
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert "boom" in said
    assert draw(dst, "-o", tmp_path / "x.png", "--debug") == 70
    assert "Traceback" in capsys.readouterr().err


@pytest.mark.parametrize("amid_a_compiled_function", [False, True])
def test_interrupted(
    dst: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    *,
    amid_a_compiled_function: bool,
) -> None:
    def stopped(*_: object, **__: object) -> None:
        if not amid_a_compiled_function:
            raise KeyboardInterrupt
        try:
            raise SystemError("helper returned a result with an exception set") from KeyboardInterrupt()
        except SystemError as error:
            raise SystemError("CPUDispatcher returned a result with an exception set") from error

    monkeypatch.setattr(sys.modules["render.preview"], "draw_design", stopped)
    assert draw(dst, "-o", tmp_path / "x.png") == 130
    assert capsys.readouterr().err == "twillight: stopped\n"
    assert not list(tmp_path.iterdir())


def test_account_says_on_what_it_was_sewn(
    dst: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = tmp_path / "order.toml"
    job.write_text('customer = "Otter & Oar"\nfabric = "jersey"\ntopping = "film"\n', "utf-8")
    assert draw(dst, "-o", tmp_path / "a.png", "--job", job, "--stabiliser", "none", "--json") == 0
    account = json.loads(capsys.readouterr().out)
    assert account["order"] == {"customer": "Otter & Oar"}
    assert (account["sewing"]["stabiliser"], account["sewing"]["held"]) == ("none", "hooped")
    assert any("topping 'film' is drawn as a film" in note for note in account["notes"])
    assert draw(dst, "-o", tmp_path / "b.png", "--as-programmed", "--json") == 0
    assert json.loads(capsys.readouterr().out)["sewing"] == {"as_programmed": True}


def test_misuse_names_the_help_that_tells_more(
    dst: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert draw(dst, "-o", tmp_path / "a.png", "--finish", "clean") == 2
    said = capsys.readouterr().err
    assert "'clean' is not one of 'off-machine', 'cleaned' (twillight draw --help tells more)" in said
    assert "Value error" not in said
