"""`twillight inspect` and `twillight changes` as a shop meets them."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any, get_args

import numpy as np
import pytest
from PIL import Image

from render.cli import run
from render.inspect import kinds
from render.model import Command, Severity
from render.read import read_design
from render.write.stitch_file import encode_stitches

EXAMPLES = Path(__file__).parents[2] / "examples"
FAULTY = EXAMPLES / "crest-faulty.exp"
WORDMARK = EXAMPLES / "wordmark.vp3"


@pytest.fixture(scope="module")
def part(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A few stitches of the faulty crest, with faults of all severities: sooner looked at than the whole."""
    whole = read_design(FAULTY)
    needle_points = np.cumsum(whole.command == Command.STITCH)
    own = (needle_points > 9250) & (needle_points <= 9680)
    some = replace(whole, xy_mm=whole.xy_mm[own].copy(), command=whole.command[own].copy())
    path = tmp_path_factory.mktemp("part") / "part.exp"
    path.write_bytes(encode_stitches(some, "exp"))
    return path


def inspect(*arguments: object) -> int:
    return run(["inspect", *map(str, arguments)])


def report(capsys: pytest.CaptureFixture[str], *arguments: object) -> dict[str, Any]:
    assert inspect(*arguments, "--json") == 0
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return found


def test_json_has_the_documented_form(capsys: pytest.CaptureFixture[str]) -> None:
    values = report(capsys, FAULTY, "--fabric", "twill")
    assert values["summary"]["stitches"] == 10936
    assert values["verdict"].startswith("send it back")
    for one in values["problems"]:
        assert one["kind"] in kinds()
        assert one["severity"] in get_args(Severity)
        assert len(one["where_mm"]) == 2
        left, top, right, bottom = one["box_mm"]
        assert left <= right
        assert top <= bottom
        assert one["size_mm"] is None or one["size_mm"] > 0
        assert 1 <= one["stitches"][0] <= one["stitches"][1] <= 10936
        assert one["cause"]
        assert one["remedy"]
    levels = [one["severity"] for one in values["problems"]]
    assert levels == sorted(levels, key=["fix", "check", "note"].index)
    production = values["production"]
    assert set(production) == {
        "run_time_s",
        "trims",
        "colour_changes",
        "stops",
        "needle_thread_m",
        "bobbin_thread_m",
    }
    assert len(production["needle_thread_m"]) == 9
    assert any("needle" in caution for caution in values["cautions"])


def test_people_read_the_worst_first_and_mild_remarks_only_when_asked(
    part: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert inspect(part, "--fabric", "twill") == 0
    short = capsys.readouterr().out
    assert short.startswith("part.exp on twill: send it back")
    assert "--all shows them" in short
    assert " note " not in short
    assert inspect(part, "--fabric", "twill", "--all") == 0
    assert " note " in capsys.readouterr().out


@pytest.mark.parametrize(("faulty", "level", "code"), [(True, "fix", 1), (False, "fix", 0)])
def test_scripts_can_fail_on_what_is_found(part: Path, faulty: bool, level: str, code: int) -> None:
    design = part if faulty else WORDMARK
    assert inspect(design, "--fabric", "twill", "--fail-on", level) == code
    assert inspect(design, "--fabric", "twill") == 0


@pytest.mark.parametrize("ending", ["png", "pdf", "html"])
def test_the_report_is_written_whole_and_never_over_another(
    ending: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / f"report.{ending}"
    assert inspect(WORDMARK, "--fabric", "jersey", "-o", out) == 0
    data = out.read_bytes()
    assert {"png": b"\x89PNG", "pdf": b"%PDF", "html": b"<!DOCTYPE html>"}[ending] == data[
        :4
    ] or data.startswith(b"<!DOCTYPE html>")
    if ending == "png":
        assert Image.open(out).width == 1800
    if ending == "html":
        assert b"<script" not in data
        assert b"://" not in data
    assert inspect(WORDMARK, "-o", out) == 2
    assert "is there already" in capsys.readouterr().err
    assert out.read_bytes() == data
    assert [path.name for path in tmp_path.iterdir()] == [out.name]


def test_a_folder_gets_a_line_a_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "a.vp3").write_bytes(WORDMARK.read_bytes())
    (tmp_path / "b.dst").write_bytes(b"no stitches at all")
    (tmp_path / "notes.txt").write_text("not a stitch file")
    assert inspect(tmp_path, "--fabric", "twill") == 65  # b.dst is no stitch file; the others were looked at
    said = capsys.readouterr()
    lines = said.out.splitlines()
    assert [line.split()[0] for line in lines] == ["a.vp3", "b.dst"]
    assert "cannot be read" in lines[1]
    assert said.err.startswith("twillight: b.dst cannot be read")
    (tmp_path / "b.dst").unlink()
    assert inspect(tmp_path, "--fabric", "twill") == 0
    capsys.readouterr()
    assert inspect(tmp_path, "-o", tmp_path / "x.png") == 2


def test_a_waiver_is_written_into_the_job_and_heard_from_then_on(
    part: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = tmp_path / "job.toml"
    job.write_text('fabric = "twill"\ncustomer = "Otter & Oar"\n')
    before = report(capsys, part, "--job", job)
    number = next(n for n, one in enumerate(before["problems"], 1) if one["kind"] == "long-stitch")
    assert inspect(part, "--job", job, "--waive", number, "--why", 'meant "so"') == 0
    capsys.readouterr()
    after = report(capsys, part, "--job", job)
    assert after["summary"]["waived"] == 1
    assert len(after["problems"]) == len(before["problems"]) - 1
    assert not [one for one in after["problems"] if one["kind"] == "long-stitch"]
    assert 'customer = "Otter & Oar"' in job.read_text()


def test_a_job_that_is_not_there_begins_with_what_is_waived(
    part: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = tmp_path / "order.toml"
    assert inspect(part, "--fabric", "twill", "--job", job, "--waive", 99) == 2
    assert not job.exists()
    capsys.readouterr()
    assert inspect(part, "--fabric", "twill", "--job", job, "--waive", 3, "--why", "knock-down") == 0
    assert f"{job}: now says what is meant so" in capsys.readouterr().out
    assert report(capsys, part, "--fabric", "twill", "--job", job)["summary"]["waived"] == 1
    assert 'why = "knock-down"' in job.read_text()
    assert [path.name for path in tmp_path.iterdir()] == [job.name]


def test_a_job_that_cannot_be_written_is_told_before_anything_is_sewn(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert inspect(FAULTY, "--job", tmp_path, "--waive", 1) == 74
    assert "is a folder: add a file name to it" in capsys.readouterr().err
    assert inspect(FAULTY, "--job", tmp_path / "none" / "job.toml", "--waive", 1) == 74


@pytest.mark.slow
def test_limits_of_ones_own_come_before_the_usual(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    own = tmp_path / "limits.toml"
    own.write_text("[all]\nlong_check_mm = 3.0\nlong_fix_mm = 20.0\n")
    usual = report(capsys, FAULTY, "--fabric", "twill")
    ours = report(capsys, FAULTY, "--fabric", "twill", "--limits", own)
    long = [[one for one in v["problems"] if one["kind"] == "long-stitch"] for v in (usual, ours)]
    assert {one["severity"] for one in long[0]} == {"fix"}
    assert {one["severity"] for one in long[1]} == {"check"}
    assert len(long[1]) > len(long[0])
    own.write_text("[all]\nlong_chek_mm = 3.0\n")
    assert inspect(FAULTY, "--limits", own) == 65
    assert "did you mean 'long_check_mm'" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (("none.dst",), 65, "none.dst"),
        ((FAULTY, "--waive", "1"), 2, "name it with --job"),
        ((FAULTY, "-o", "x.doc"), 2, "names no picture format"),
        ((FAULTY, "--artwork", "none.png"), 65, "cannot read the artwork"),
    ],
)
def test_what_makes_no_sense_gets_one_sentence(
    arguments: tuple[object, ...], code: int, words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert inspect(*arguments) == code
    error = capsys.readouterr().err
    assert words in error
    assert error.count("\n") == 1


def test_artwork_is_compared_when_it_is_given(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    Image.new("RGB", (60, 60), "white").save(tmp_path / "logo.png")
    values = report(capsys, WORDMARK, "--artwork", tmp_path / "logo.png")
    assert "another design" in values["artwork"]["verdict"]


@pytest.mark.skipif(os.name == "nt", reason="signals work differently here")
def test_watching_looks_again_when_the_file_changes(tmp_path: Path) -> None:
    path = tmp_path / "logo.vp3"
    path.write_bytes(WORDMARK.read_bytes())
    command = [sys.executable, "-u", "-m", "render", "inspect", str(path), "--fabric", "twill", "--watch"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as watching:
        assert watching.stdout is not None
        while "follow local rules" not in watching.stdout.readline():
            pass
        path.write_bytes((EXAMPLES / "cap-badge.vp3").read_bytes())
        assert "on twill" in watching.stdout.readline()
        while "follow local rules" not in watching.stdout.readline():
            pass
        watching.send_signal(signal.SIGINT)
        assert watching.wait(120) == 130


@pytest.mark.slow
def test_changes_are_listed_and_drawn(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    old, new = EXAMPLES / "crest.exp", FAULTY
    assert run(["changes", str(old), str(new), "--json"]) == 0
    values = json.loads(capsys.readouterr().out)
    assert values["stitches"]["kept"] > 5000
    assert {one["kind"] for one in values["faults_new"]} >= {"long-stitch", "short-stitch", "thin-cover"}
    assert run(["changes", str(WORDMARK), str(WORDMARK), "-o", str(tmp_path / "c.png")]) == 0
    assert Image.open(tmp_path / "c.png").width == 1800
    assert "0 taken out, 0 added" in capsys.readouterr().out
