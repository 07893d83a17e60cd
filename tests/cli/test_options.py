"""Nonsense given to each option of each command: one sentence, and the option called as it was typed."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import typer

from render.cli import COMMANDS, app, run

# What each command needs besides; the design is missing, so that no command goes on to draw.
NEEDED = {
    "draw": ("gone.dst", "-o", "o.png"),
    "animate": ("gone.dst", "-o", "o.gif"),
    "scene": ("gone.dst", "-o", "o.jpg"),
    "inspect": ("gone.dst",),
    "proof": ("gone.dst", "-o", "o.pdf"),
    "verify": ("gone.pdf", "gone.dst"),
    "changes": ("gone.dst", "gone.dst"),
    "pull": ("gone.dst", "-o", "o.png"),
    "compare": ("gone.dst", "--fabrics", "twill,jersey", "-o", "o.png"),
    "swatch": ("-o", "none/o.dst"),
    "fit": ("gone.csv", "-o", "o.toml"),
    "fit-thread": (
        *("gone.jpg", "-o", "o.toml", "--light", "raking", "--paper", "1790,800"),
        *("--corners", "412,390 1620,402 1611,1604 405,1597"),
    ),
    "list": ("fabrics",),
}
PYTHON_NAME = re.compile(r"\b[a-z]+_[a-z]")


def options_with_values() -> dict[str, list[str]]:
    """Command -> its options that take a value; what several commands share stands with the first."""
    commands = typer.main.get_command(app).commands  # type: ignore[attr-defined]
    known: set[tuple[str, str]] = set()
    found: dict[str, list[str]] = {name: [] for name in COMMANDS}
    for name in COMMANDS:
        for param in commands[name].params:
            option, shared = param.opts[0], (param.opts[0], str(getattr(param, "help", "")))
            if option.startswith("--") and not getattr(param, "is_flag", False) and shared not in known:
                known.add(shared)
                found[name].append(option)
    return found


OPTIONS = options_with_values()


def test_every_command_is_tried() -> None:
    assert list(NEEDED) == list(COMMANDS)
    assert "--fabric-colour" in OPTIONS["draw"]
    assert "--corners-mm" in OPTIONS["scene"]
    assert sum(map(len, OPTIONS.values())) > 60


@pytest.mark.parametrize("command", [name for name, options in OPTIONS.items() if options])
def test_nonsense_is_refused_in_the_words_of_who_typed_it(
    command: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    for option in OPTIONS[command]:
        on = ["--on", "polo"] if command == "scene" and option != "--photo" else []
        for value in ("nonsense", "-5", ""):
            code = run([command, *NEEDED[command], *on, f"{option}={value}"])
            said = capsys.readouterr().err
            assert code in (2, 65, 74), (option, said)
            assert said.startswith("twillight: "), option
            assert said.count("\n") == 1, said
            assert not PYTHON_NAME.search(said), said
            assert not list(tmp_path.iterdir()), option


@pytest.mark.parametrize(
    ("asked", "sentence"),
    [
        (("--fabric-colour", "blurple"), "--fabric-colour: 'blurple' is no colour"),
        (("--background", "blurple"), "--background: 'blurple' is no colour"),
        (("--trim-colour", "blurple"), "--trim-colour: 'blurple' is no colour"),
        (("--trim-colour", "red", "--colour-sets", "s.toml"), "--trim-colour would be that of every set"),
        (
            ("--photo", "p.jpg", "--corners", "0,0 9,0 9,9 0,9", "--save-place", "no/p.toml"),
            "there is no folder no",
        ),
        (("--photo", "p.jpg", "--corners", "1,2 3,4"), "--corners '1,2 3,4': write 4 places in pixels"),
        (("--photo", "p.jpg", "--corners-mm", "90"), "--corners-mm '90': write a size in mm such as 90x70"),
        (("--photo", "p.jpg", "--centre", "5,6"), "give either --corners, or --points with --distance-mm"),
        (("--photo", "p.jpg", "--points", "1,2 300,4"), "--distance-mm must be a number from 1 to 5000"),
        (
            ("--photo", "p.jpg", "--points", "1,2 1,3", "--distance-mm", "9"),
            "--points: the two are hardly apart",
        ),
        (("--photo", "p.jpg", "--corners", "0,0 0,9 9,9 9,0"), "--corners must go round clockwise"),
    ],
)
def test_a_scene_calls_its_options_as_they_are_typed(
    asked: tuple[str, ...], sentence: str, capsys: pytest.CaptureFixture[str]
) -> None:
    on = () if "--photo" in asked else ("--on", "polo")
    assert run(["scene", "gone.dst", "-o", "o.png", *on, *asked]) in (2, 65, 74)
    assert sentence in capsys.readouterr().err
