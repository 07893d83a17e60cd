"""What tests in several folders share."""

from __future__ import annotations

import os
import sys
from pathlib import Path

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
    """Mark the tests of modules that compare with the slow twins, to run them uncompiled too.

    Files with slow tests come first: one that is begun last leaves the other processes without work.
    """
    for item in items:
        names = vars(getattr(item, "module", item)).values()
        homes = (str(getattr(v, "__module__", None) or getattr(v, "__name__", "")) for v in names)
        if any(home.split(".")[0] == "naive" for home in homes):
            item.add_marker(pytest.mark.twin)
    slow = {item.path for item in items if item.get_closest_marker("slow")}
    items.sort(key=lambda item: item.path not in slow)
