"""What tests in several folders share."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from types import CodeType

import pytest
from hypothesis import settings

# No example fails for its time on the clock, which other work on the machine decides.
settings.register_profile("any speed", settings(), deadline=None)
settings.load_profile("any speed")
# tests/naive/ holds the slow twins of the kernels.
sys.path.insert(0, str(Path(__file__).parent))


@pytest.fixture(scope="session")
def repository() -> Path:
    """The checkout that the tests run from."""
    return Path(__file__).parent.parent


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say how many tests were skipped, which happens only where something is not installed."""
    terminalreporter.write_line(f"skipped tests: {len(terminalreporter.stats.get('skipped', []))}")


def pytest_sessionfinish(session: pytest.Session) -> None:
    """A skipped test counts as failed where everything is to be installed."""
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    if os.environ.get("CI") and reporter is not None and reporter.stats.get("skipped"):
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark the tests that compare with the slow twins, to run them uncompiled too.

    Files with slow tests come first: one that is begun last leaves the other processes without work.
    """
    for item in items:
        if isinstance(item, pytest.Function) and _uses_naive(item.function, set()):
            item.add_marker(pytest.mark.twin)
    slow = {item.path for item in items if item.get_closest_marker("slow")}
    items.sort(key=lambda item: item.path not in slow)


def _uses_naive(function: Callable[..., object], seen: set[object]) -> bool:
    """Whether a test names a slow twin, itself or in a function of its module that it calls."""
    function = getattr(getattr(function, "hypothesis", None), "inner_test", function)
    code = getattr(function, "__code__", None)
    if code is None or code in seen:
        return False
    seen.add(code)
    for value in (function.__globals__.get(name) for name in _names(code)):
        home = str(getattr(value, "__module__", None) or getattr(value, "__name__", ""))
        if home.split(".")[0] == "naive":
            return True
        if home == function.__module__ and callable(value) and _uses_naive(value, seen):
            return True
    return False


def _names(code: CodeType) -> Iterator[str]:
    """What a function's code names, functions within it included."""
    yield from code.co_names
    for inner in code.co_consts:
        if isinstance(inner, CodeType):
            yield from _names(inner)
