"""The proof and its verification as a shop meets them."""

from __future__ import annotations

from pathlib import Path

import pytest

from render.cli import run

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
