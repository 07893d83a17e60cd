"""What `--help` tells: an example of each command that can be typed as it stands."""

from __future__ import annotations

import shlex

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


def test_the_overview_cuts_no_sentence_short(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["--help"]) == 0
    shown = capsys.readouterr().out
    assert all(f"  {name} " in shown for name in COMMANDS)
    assert "..." not in shown[shown.index("Commands:") :]


def test_a_command_line_with_an_unknown_option_is_not_understood() -> None:
    with pytest.raises(typer.TyperException):
        parsed(f"{EXAMPLES['draw']} --no-such-option")
