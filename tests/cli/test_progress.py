"""The progress bar: for people, and only when it takes long."""

from __future__ import annotations

import inspect
import io
import sys
import time

import pytest

from render.terminal import Progress, _line


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def on_terminal(monkeypatch: pytest.MonkeyPatch) -> Terminal:
    """Not a fixture: pytest puts its own stream back between set-up and test."""
    stream = Terminal()
    monkeypatch.setattr(sys, "stderr", stream)
    return stream


def wait_for(terminal: Terminal, text: str) -> None:
    deadline = time.monotonic() + 120
    while text not in terminal.getvalue():
        assert time.monotonic() < deadline, terminal.getvalue()
        time.sleep(0.01)


def test_quiet_at_first(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = on_terminal(monkeypatch)
    with Progress(after_s=3600.0) as progress:
        progress(0.5)
        time.sleep(0.05)
    assert terminal.getvalue() == ""
    assert inspect.signature(Progress).parameters["after_s"].default == 1.0


def test_shows_life_then_the_share_and_cleans_up_after_itself(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = on_terminal(monkeypatch)
    with Progress(after_s=0.01) as progress:
        wait_for(terminal, "getting ready")
        progress(0.5)
        wait_for(terminal, "50%")
    shown = terminal.getvalue()
    longest = max(len(line) for line in shown.split("\r"))
    assert shown.endswith("\r" + " " * longest + "\r")


def test_cleans_up_after_a_failure(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = on_terminal(monkeypatch)

    def fail() -> None:
        with Progress(after_s=0.01):
            wait_for(terminal, "getting ready")
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fail()
    assert terminal.getvalue().endswith(" \r")


def test_quiet_where_nobody_looks(monkeypatch: pytest.MonkeyPatch) -> None:
    stream = io.StringIO()
    monkeypatch.setattr(sys, "stderr", stream)
    with Progress(after_s=0.0) as progress:
        progress(0.5)
        time.sleep(0.05)
    assert stream.getvalue() == ""


@pytest.mark.parametrize(
    ("share", "seconds", "line"),
    [
        (0.0, 2.0, "getting ready, 2 s"),
        (0.0, 9.0, "getting ready, 9 s (the first time takes longer)"),
        (0.5, 9.0, f"drawing [{'#' * 15}{' ' * 15}]  50%"),
        (1.0, 9.0, f"drawing [{'#' * 30}] 100%"),
    ],
)
def test_line(share: float, seconds: float, line: str) -> None:
    assert _line(share, seconds) == line


def test_time_left_goes_by_what_the_last_share_took(monkeypatch: pytest.MonkeyPatch) -> None:
    clock = [100.0]
    monkeypatch.setattr("render.terminal.time.monotonic", lambda: clock[0])
    progress = Progress(time_left=True)
    progress(0.25)
    assert progress._left() == ""
    clock[0] += 30.0
    progress(0.5)
    # A quarter took 30 s: the half that is left takes twice as long.
    assert progress._left() == ", 1:00 left"
