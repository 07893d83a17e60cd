"""Small stitch files for the command line, made as a shop's software would write them."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pyembroidery
import pytest

ASKED: list[str] = []
# What Python tells of whoever asks a network, in whatever library (its table of audit events).
ASKING = {"socket.connect", "socket.getaddrinfo", "socket.gethostbyname", "socket.sendto", "urllib.Request"}


def _note(event: str, _: object) -> None:
    if event in ASKING:
        ASKED.append(event)


sys.addaudithook(_note)  # for as long as the process lives


@pytest.fixture(autouse=True)
def network() -> Iterator[list[str]]:
    """What a test has asked of a network; nothing is allowed."""
    ASKED.clear()
    yield ASKED
    assert not ASKED


def two_colours() -> pyembroidery.EmbPattern:
    """A satin column 20 mm long and 3 mm wide, a jump of 8 mm, a second one in another colour."""
    pattern = pyembroidery.EmbPattern()
    pattern.add_thread({"hex": "c02030"})
    pattern.add_thread({"hex": "103070"})
    for block in range(2):
        left = 200 * block
        for step in range(50):
            pattern.add_stitch_absolute(pyembroidery.STITCH, left + 30 * (step % 2), 4 * step)
        if block == 0:
            pattern.add_stitch_absolute(pyembroidery.JUMP, left + 110, 196)
            for step in range(50):
                pattern.add_stitch_absolute(pyembroidery.STITCH, left + 110 + 30 * (step % 2), 196 - 4 * step)
            pattern.add_command(pyembroidery.COLOR_BREAK)
    pattern.add_command(pyembroidery.END)
    return pattern


@pytest.fixture(scope="session")
def designs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the same design as DST, PES and EXP."""
    folder = tmp_path_factory.mktemp("designs")
    for suffix in ("dst", "pes", "exp"):
        pyembroidery.write(two_colours(), str(folder / f"two.{suffix}"))
    return folder


@pytest.fixture
def dst(designs: Path) -> Path:
    return designs / "two.dst"
