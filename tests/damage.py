"""Damaged stitch files for the fuzzers, and what a design read from one must be."""

from __future__ import annotations

import random

import numpy as np
import stitch_files as files

from render.model import Command, Design
from render.read import decode_design
from render.read.decoder import Decoder

STITCHES = 400
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


def assert_sane(design: Design, data: bytes) -> None:
    """Neither empty nor absurd."""
    needle_points = design.xy_mm[design.command == Command.STITCH]
    assert len(needle_points) > 0
    assert np.isfinite(design.xy_mm).all()
    assert np.abs(design.xy_mm).max() <= 1000
    assert np.ptp(needle_points, axis=0).max() > 0
    assert (
        len(design.colours_srgb) == 1 + np.isin(design.command, (Command.COLOUR_CHANGE, Command.STOP)).sum()
    )


def is_short_unsaid(design: Design, data: bytes) -> bool:
    """Whether under half of the design is left and nothing says so, though the format could tell."""
    needle_points = (design.command == Command.STITCH).sum()
    if needle_points >= STITCHES // 2 or design.notes:
        return False
    # Short, and nothing said: then everything that is in the file is in the design.
    everything = (len(data) - NO_END.get(design.format, 0)) // 2 - 8
    return design.format not in NO_END or len(design.command) < everything
