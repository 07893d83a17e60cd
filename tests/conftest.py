"""What tests in several folders share."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

# tests/naive.py holds the slow twins of the kernels.
sys.path.insert(0, str(Path(__file__).parent))


@pytest.fixture(scope="session")
def repository() -> Path:
    """The checkout that the tests run from."""
    return Path(__file__).parent.parent
