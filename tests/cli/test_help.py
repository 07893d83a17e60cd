"""What `--help` tells: an example of each command that can be typed as it stands."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest
import typer

from render.cli import COMMANDS, app, run
from render.cli.examples import EXAMPLES


def parsed(line: str) -> dict[str, object]:
    """The values that a command line gives to the options of its command, without running it."""
    name, *words = shlex.split(line)[1:]
    command = typer.main.get_command(app).commands[name]  # type: ignore[attr-defined]
    return dict(command.make_context(name, words).params)


def test_every_command_has_an_example() -> None:
    assert list(EXAMPLES) == list(COMMANDS)


@pytest.mark.parametrize("name", EXAMPLES)
def test_help_shows_an_example_that_is_understood(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    line = EXAMPLES[name]
    assert line.split()[:2] == ["twillight", name]
    assert parsed(line)
    assert run([name, "--help"]) == 0
    shown = capsys.readouterr().out
    assert f"Example:\n    {line}\n" in shown  # not broken over two lines, ready to be copied
    assert shown.index("Example:") < shown.index("Exit codes:")


def test_examples_read_what_is_there_or_what_an_example_before_them_made() -> None:
    made = {"columns.csv", "wheel.jpg", "lamp.toml"}  # written beside columns.dst; the reader's own
    for line in EXAMPLES.values():
        words = shlex.split(line)
        outputs = {words[at + 1] for at, word in enumerate(words) if word in ("-o", "--sheet")}
        assert not outputs & made, f"an example before it has written the same file: {line}"
        files = {word for word in words if re.search(r"\.[a-z]{3,4}$", word)}
        for name in files - outputs - made:
            assert name.startswith("examples/"), line
            assert (Path(__file__).parents[2] / name).is_file(), line
        made |= outputs


def test_the_overview_cuts_no_sentence_short(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["--help"]) == 0
    shown = capsys.readouterr().out
    assert all(f"  {name} " in shown for name in COMMANDS)
    assert "..." not in shown[shown.index("Commands:") :]


@pytest.mark.parametrize("name", COMMANDS)
def test_options_are_explained_in_words_and_not_by_types(
    name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """What an option takes is told as MM, N or FILE: float means nothing to a shop."""
    assert run([name, "--help"]) == 0
    shown = capsys.readouterr().out
    options = shown[shown.index("Options:") : shown.index("Example:")]
    assert not re.findall(r"<(?:str|int|float|list)\b.*?>", options)
    assert "--debug" in options  # what a fault of the program names


def test_a_command_line_with_an_unknown_option_is_not_understood() -> None:
    with pytest.raises(typer.TyperException):
        parsed(f"{EXAMPLES['draw']} --no-such-option")
