"""The proof and its verification as a shop meets them."""

from __future__ import annotations

import base64
import json
from pathlib import Path

import pytest

from render.cli import run
from render.proof.carried import MARK, find_record

EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.fixture(scope="module")
def proof(designs: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The proof of a small design, made by the command."""
    path = tmp_path_factory.mktemp("proof") / "two.pdf"
    assert run(["proof", str(designs / "two.pes"), "-o", str(path), "--fabric", "twill", "--operator"]) == 0
    return path


def test_the_same_command_makes_the_same_bytes(proof: Path, designs: Path, tmp_path: Path) -> None:
    again = tmp_path / "again.pdf"
    assert run(["proof", str(designs / "two.pes"), "-o", str(again), "--fabric", "twill", "--operator"]) == 0
    assert again.read_bytes() == proof.read_bytes()


def test_a_proof_there_already_is_kept(
    proof: Path, designs: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["proof", str(designs / "two.pes"), "-o", str(proof)]) == 2
    assert "--force" in capsys.readouterr().err


def test_other_endings_are_refused(designs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["proof", str(designs / "two.pes"), "-o", "two.docx"]) == 2
    assert ".pdf" in capsys.readouterr().err


@pytest.mark.parametrize(("name", "answer"), [("two.pes", "very file"), ("two.dst", "in another file")])
def test_what_was_signed_for_is_known_again(
    proof: Path, designs: Path, name: str, answer: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["verify", str(proof), str(designs / name)]) == 0
    assert answer in capsys.readouterr().out


def test_another_design_is_not(proof: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["verify", str(proof), str(EXAMPLES / "wordmark.dst")]) == 1
    said = capsys.readouterr().out
    assert said.startswith("no: ")
    assert "size: approved" in said


def test_another_cloth_is_told(proof: Path, designs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["verify", str(proof), str(designs / "two.pes"), "--fabric", "twill"]) == 0
    assert run(["verify", str(proof), str(designs / "two.pes"), "--fabric", "jersey"]) == 1
    assert "fabric: approved twill, now jersey" in capsys.readouterr().out


def test_what_is_no_proof_is_refused(designs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["verify", str(designs / "two.dst"), str(designs / "two.dst")]) == 65
    assert "carries no record" in capsys.readouterr().err
    assert run(["verify", "missing.pdf", str(designs / "two.dst")]) == 65


def test_a_record_cannot_steer_the_terminal(
    proof: Path, designs: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    record = find_record(proof.read_bytes())
    assert record is not None
    record |= {"name": "x\x1b[2J\nyes: forged", "settings": {"fabric\x07": "\x1b]0;hi\x07"}}
    packed = base64.b64encode(json.dumps(record).encode()).decode()
    forged = tmp_path / "forged.html"
    forged.write_text(f'<meta name="record" content="{MARK}:{packed}:">')
    assert run(["verify", str(forged), str(designs / "two.dst"), "--fabric", "twill"]) == 1
    said = capsys.readouterr().out
    assert "\x1b" not in said
    assert "\x07" not in said
    assert sum(line.startswith("yes") for line in said.splitlines()) == 1


def test_json_says_what_people_are_told(
    proof: Path, designs: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["verify", str(proof), str(designs / "two.exp"), "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert (said["verdict"], said["approved"], said["differences"]) == ("same stitches", True, [])


def test_a_language_that_nobody_wrote_is_refused_with_a_list(
    designs: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "x.pdf"
    assert run(["proof", str(designs / "two.pes"), "-o", str(out), "--language", "tlh"]) == 65
    assert "en (English)" in capsys.readouterr().err
    assert not out.exists()
