"""Damaged files: 200 seeded mutations a common format. Only one kind of error, in time, in little memory."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import numpy as np
import pytest
import stitch_files as files
from clock import processor_seconds
from damage import ROWS, STITCHES, WHOLE, Service, assert_sane, is_short_unsaid, mutate

from render.errors import InputError
from render.model import Command, Design
from render.read import decode_design, read_design
from render.read.decoder import Decoder

MUTATIONS = 200
SECONDS = 2.0
MEMORY_KB = 300 * 1024


@pytest.fixture
def service() -> Iterator[Service]:
    running = Service()
    yield running
    running.close()


@pytest.mark.parametrize("extension", WHOLE)
def test_mutated_files(extension: str, service: Service) -> None:
    outcomes: Counter[str] = Counter()
    for seed in range(MUTATIONS):
        data = mutate(WHOLE[extension], seed)
        start = processor_seconds()
        try:
            design = service.read(data, f"mutated.{extension}")
        except InputError:
            outcomes["refused"] += 1
        else:
            outcomes["noted" if design.notes else "read"] += 1
            assert_sane(design, data)
            assert not is_short_unsaid(design, data), f"seed {seed}"
        assert processor_seconds() - start < SECONDS, f"seed {seed}"
    # The corpus is worth its name: it meets each way a damaged file can go.
    assert outcomes["refused"] >= MUTATIONS // 50
    assert outcomes["noted"] >= MUTATIONS // 50
    assert service.lost == 0


@pytest.mark.parametrize("extension", WHOLE)
def test_mutated_files_through_a_process_of_their_own(extension: str) -> None:
    """A sample of the same corpus the way a user's file goes."""
    for seed in range(0, MUTATIONS, 20):
        data = mutate(WHOLE[extension], seed)
        start = processor_seconds()
        with suppress(InputError):
            assert_sane(read_design(data, name=f"mutated.{extension}"), data)
        assert processor_seconds() - start < SECONDS, f"seed {seed}"


def test_whole_files_pass_without_a_word(service: Service) -> None:
    for extension, data in WHOLE.items():
        design = service.read(data, f"whole.{extension}")
        assert not design.notes, extension
        assert (design.command == Command.STITCH).sum() == STITCHES


def test_the_check_sees_an_absurd_design() -> None:
    design = read_design(files.write("pes", ROWS))
    short = np.flatnonzero(design.command == Command.STITCH)[: STITCHES // 3]
    cut = Design("x", "pes", design.xy_mm[short], design.command[short], (None,), "explicit", False, "")
    assert is_short_unsaid(cut, WHOLE["pes"])
    with pytest.raises(AssertionError):
        assert_sane(Design("x", "pes", cut.xy_mm * 1e3, cut.command, (None,), "explicit", False, ""), b"")


@pytest.mark.skipif(
    not Path("/proc/self/status").exists(), reason="this system does not tell a process's peak"
)
def test_the_process_stays_within_its_memory() -> None:
    with Decoder() as running:
        for extension, data in WHOLE.items():
            for seed in range(0, MUTATIONS, 10):
                with suppress(InputError):
                    decode_design(
                        running, mutate(data, seed), name=f"a.{extension}", title="", max_bytes=2**22
                    )
        # The largest file that is taken, too.
        running.decode("ExpReader", b"\1\0\xff\0" * 250_000)
        status = Path(f"/proc/{running.process.pid}/status").read_text()
    peak_kb = int(re.findall(r"VmHWM:\s+(\d+) kB", status)[0])
    assert 1000 < peak_kb < MEMORY_KB
