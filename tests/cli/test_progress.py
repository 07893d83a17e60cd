"""The progress bar: for people, and only when it takes long."""

from __future__ import annotations

import io
import sys

import pytest

from render.terminal import Progress


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    now = [100.0]
    monkeypatch.setattr("render.terminal.time.monotonic", lambda: now[0])
    return now


def test_quiet_in_the_first_second(clock: list[float], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stderr", Terminal())
    with Progress() as progress:
        clock[0] += 0.9
        progress(0.5)
    assert sys.stderr.getvalue() == ""  # type: ignore[attr-defined]


def test_shows_share_and_cleans_up_after_itself(clock: list[float], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stderr", Terminal())
    with Progress() as progress:
        clock[0] += 1.5
        progress(0.5)
        shown = sys.stderr.getvalue()  # type: ignore[attr-defined]
        assert "50%" in shown
        assert "#" * 15 + " " * 15 in shown
        progress(0.51)
        assert sys.stderr.getvalue() == shown  # type: ignore[attr-defined]
    assert sys.stderr.getvalue().endswith("\r" + " " * (len(shown) - 1) + "\r")  # type: ignore[attr-defined]


def test_quiet_where_nobody_looks(clock: list[float], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stderr", io.StringIO())
    with Progress() as progress:
        clock[0] += 5
        progress(0.5)
    assert sys.stderr.getvalue() == ""  # type: ignore[attr-defined]
