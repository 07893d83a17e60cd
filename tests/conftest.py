"""What tests in several folders share."""

from __future__ import annotations

import os
import signal
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
# What runs in the background of a shell ignores Ctrl-C, and so does all that it starts; some tests send it.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)


# The files that take longest come first: one that is begun last leaves the other processes without work. The
# first two compile what most others need, one what draws and one what sews, so that none is compiled twice.
LONGEST = (
    "physics/test_colour.py",
    "physics/test_fit.py",
    "physics/test_fit_thread.py",
    "planting/test_score.py",
    "cli/test_documents.py",
    "physics/test_optics.py",
    "physics/test_band.py",
    "physics/test_sheen_reference.py",
    "physics/test_scene_optics.py",
    "browser/test_screen_proof.py",
    "cli/test_inspect.py",
    "physics/test_sew_exact.py",
    "physics/test_colour_spread.py",
    "physics/test_production.py",
    "cli/test_animate.py",
    "property/test_preview_of_random_designs.py",
)


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
    """Bring files in order, and mark the tests that compare with slow twins, to run them uncompiled too."""
    for item in items:
        again = item.get_closest_marker("compiled") is None
        if again and isinstance(item, pytest.Function) and _uses_naive(item.function, set()):
            item.add_marker(pytest.mark.twin)
    begins = {name: place for place, name in enumerate(LONGEST)}
    items.sort(key=lambda item: begins.get("/".join(item.path.parts[-2:]), len(begins)))


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
