"""Damaged files: 200 seeded mutations a common format. Only one kind of error, in time, in little memory."""

from __future__ import annotations

import random
import re
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import numpy as np
import pytest
import stitch_files as files

from render.errors import InputError
from render.model import Command, Design
from render.read import decode_design, read_design
from render.read.decoder import Decoder

MUTATIONS = 200
STITCHES = 400
SECONDS = 2.0
MEMORY_KB = 300 * 1024
# Without an end code or a count, a file cut between two records looks whole.
NO_END = {"exp": 0, "sew": 0x1D78}

ROWS = files.rows(STITCHES)
WHOLE = {
    **{
        name: files.write(name, ROWS)
        for name in ("dst", "exp", "pes", "pec", "jef", "vp3", "xxx", "u01", "tbf")
    },
    **{make.__name__: make(ROWS, (3, 5)) for make in (files.hus, files.sew, files.shv)},
}


def mutate(data: bytes, seed: int) -> bytes:
    """Damage a file: bytes, bits, lengths, pieces lost or doubled, or its end lost."""
    rng = random.Random(seed)
    changed, kind = bytearray(data), seed % 6
    for _ in range(rng.choice((1, 1, 2, 5, 20))):
        at = rng.randrange(len(changed) if rng.random() < 0.5 else min(len(changed), 700))
        if kind == 0:
            changed[at] = rng.randrange(256)
        elif kind == 1:
            changed[at] ^= 1 << rng.randrange(8)
        elif kind == 2:
            changed[at : at + 4] = rng.choice((b"\xff\xff\xff\xff", b"\0\0\0\0", b"\xff\xff\xff\x7f"))
        elif kind == 3:
            del changed[at : at + rng.randrange(1, 40)]
        elif kind == 4:
            changed[at:at] = changed[at : at + rng.randrange(1, 200)]
        else:
            del changed[at + 1 :]
        if not changed:
            break
    return bytes(changed)


class Service:
    """One decoding process for many files, replaced when a file brings it down."""

    def __init__(self) -> None:
        self.decoder = Decoder().__enter__()
        self.lost = 0

    def read(self, data: bytes, name: str) -> Design:
        if self.decoder.process.poll() is not None:
            self.close()
            self.decoder = Decoder().__enter__()
            self.lost += 1
        return decode_design(self.decoder, data, name=name, title=name, max_bytes=4 * 2**20)

    def close(self) -> None:
        self.decoder.__exit__()


@pytest.fixture
def service() -> Iterator[Service]:
    running = Service()
    yield running
    running.close()


def assert_sane(design: Design, data: bytes) -> None:
    """Neither empty nor absurd, and not shortened without a word."""
    needle_points = design.xy_mm[design.command == Command.STITCH]
    assert len(needle_points) > 0
    assert np.isfinite(design.xy_mm).all()
    assert np.abs(design.xy_mm).max() <= 1000
    assert np.ptp(needle_points, axis=0).max() > 0
    assert (
        len(design.colours_srgb) == 1 + np.isin(design.command, (Command.COLOUR_CHANGE, Command.STOP)).sum()
    )
    if len(needle_points) >= STITCHES // 2 or design.notes:
        return
    # Short, and nothing said: then everything that is in the file is in the design.
    assert design.format in NO_END, design.format
    assert len(design.command) >= (len(data) - NO_END[design.format]) // 2 - 8


@pytest.mark.parametrize("extension", WHOLE)
def test_mutated_files(extension: str, service: Service) -> None:
    outcomes: Counter[str] = Counter()
    for seed in range(MUTATIONS):
        data = mutate(WHOLE[extension], seed)
        start = time.perf_counter()
        try:
            design = service.read(data, f"mutated.{extension}")
        except InputError:
            outcomes["refused"] += 1
        else:
            outcomes["noted" if design.notes else "read"] += 1
            assert_sane(design, data)
        assert time.perf_counter() - start < SECONDS, f"seed {seed}"
    # The corpus is worth its name: it meets each way a damaged file can go.
    assert outcomes["refused"] >= MUTATIONS // 50
    assert outcomes["noted"] >= MUTATIONS // 50
    assert service.lost == 0


@pytest.mark.parametrize("extension", WHOLE)
def test_mutated_files_through_a_process_of_their_own(extension: str) -> None:
    """A sample of the same corpus the way a user's file goes."""
    for seed in range(0, MUTATIONS, 20):
        data = mutate(WHOLE[extension], seed)
        start = time.perf_counter()
        with suppress(InputError):
            assert_sane(read_design(data, name=f"mutated.{extension}"), data)
        assert time.perf_counter() - start < SECONDS, f"seed {seed}"


def test_whole_files_pass_without_a_word(service: Service) -> None:
    for extension, data in WHOLE.items():
        design = service.read(data, f"whole.{extension}")
        assert not design.notes, extension
        assert (design.command == Command.STITCH).sum() == STITCHES


def test_the_check_sees_an_absurd_design() -> None:
    design = read_design(files.write("pes", ROWS))
    short = np.flatnonzero(design.command == Command.STITCH)[: STITCHES // 3]
    cut = Design("x", "pes", design.xy_mm[short], design.command[short], (None,), "explicit", False, "")
    with pytest.raises(AssertionError, match="pes"):
        assert_sane(cut, WHOLE["pes"])
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
