"""Whatever is written in a format that holds it comes back, and no bytes bring the reader down."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest
import stitch_files as files
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from render.errors import InputError
from render.model import Command, Design
from render.read import decode_design, known_formats
from render.read.decoder import Decoder

COLOURS = (0xFF0000, 0x00FF00, 0x0000FF, 0x102030)
# Steps that every format writes as one stitch.
STEP = st.tuples(st.integers(-60, 60), st.integers(-60, 60)).filter(lambda step: step != (0, 0))
JUMP = st.tuples(st.integers(-900, 900), st.integers(-900, 900)).filter(
    lambda step: max(map(abs, step)) > 130
)
RUN = st.tuples(st.one_of(st.none(), JUMP), st.booleans(), st.lists(STEP, min_size=2, max_size=8))
BLOCKS = st.lists(st.lists(RUN, min_size=1, max_size=3), min_size=1, max_size=4)
QUICK = settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])


@pytest.fixture(scope="module")
def running() -> Iterator[Decoder]:
    with Decoder() as one:
        yield one


def records_of(
    blocks: list[list[tuple[tuple[int, int] | None, bool, list[tuple[int, int]]]]],
) -> list[files.Record]:
    """Runs of stitches, each after a jump or not, cut before it or not; a change between blocks."""
    records: list[files.Record] = [(0, 0, files.STITCH)]
    for number, block in enumerate(blocks):
        x, y, _ = records[-1]
        if number:
            records.append((x, y, files.COLOUR_CHANGE))
        for place, (jump, cut, steps) in enumerate(block):
            if jump is not None:
                # Right after a change the thread is cut anyway, and no writer says so twice.
                if cut and place:
                    records.append((x, y, files.TRIM))
                x, y = x + jump[0], y + jump[1]
                records += [(x, y, files.JUMP), (x, y, files.STITCH)]
            for dx, dy in steps:
                x, y = x + dx, y + dy
                records.append((x, y, files.STITCH))
    return records


def needle_points(xy: np.ndarray, command: np.ndarray) -> list[list[int]]:
    """Where the needle goes, in 0.1 mm, once for stitches on one spot; a change of colour as [0, 0, 1]."""
    found: list[list[int]] = []
    for (x, y), c in zip(np.asarray(xy).round().astype(int).tolist(), command, strict=True):
        if c == Command.COLOUR_CHANGE:
            found.append([0, 0, 1])
        elif c == Command.STITCH and found[-1:] != [[x, y]]:
            found.append([x, y])
    return found


def read(running: Decoder, data: bytes, name: str) -> Design:
    return decode_design(running, data, name=name, title=name, max_bytes=2**22)


@pytest.mark.parametrize("extension", ["dst", "exp", "pes", "pec", "jef", "vp3", "xxx", "u01", "tbf"])
@QUICK
@given(blocks=BLOCKS)
def test_needle_points_changes_and_colours_come_back(extension: str, running: Decoder, blocks: list) -> None:
    records = records_of(blocks)
    colours = COLOURS[: len(blocks)]
    options = {"version": 6} if extension == "pes" else {}
    design = read(running, files.write(extension, records, colours, **options), f"a.{extension}")
    sent = np.array(records)
    kinds = np.where(sent[:, 2] == files.COLOUR_CHANGE, Command.COLOUR_CHANGE, sent[:, 2])
    came, went = needle_points(design.xy_mm * 10, design.command), needle_points(sent[:, :2], kinds)
    if extension == "vp3":
        # Its writer truncates where each block starts to whole tenths of a millimetre.
        assert [len(point) for point in came] == [len(point) for point in went]
        assert (
            max(abs(a - b) for c, w in zip(came, went, strict=True) for a, b in zip(c, w, strict=True)) <= 1
        )
    else:
        assert came == went
    assert not design.notes
    assert len(design.colours_srgb) == len(blocks)
    if extension in ("pes", "vp3", "xxx", "tbf"):
        back = [
            round(r * 255) << 16 | round(g * 255) << 8 | round(b * 255) for r, g, b in design.colours_srgb
        ]
        assert back == list(colours)


@QUICK
@given(blocks=BLOCKS)
def test_explicit_cuts_come_back(running: Decoder, blocks: list) -> None:
    records = records_of(blocks)
    sent = sum(command == files.TRIM for _, _, command in records)
    for extension in ("exp", "xxx", "u01"):
        design = read(running, files.write(extension, records, COLOURS[: len(blocks)]), f"a.{extension}")
        assert np.count_nonzero(design.command == Command.TRIM) == sent


@pytest.mark.parametrize("make", [files.hus, files.sew, files.shv])
@QUICK
@given(blocks=st.lists(st.lists(STEP, min_size=2, max_size=40), min_size=1, max_size=4))
def test_hand_made_formats_come_back(make: object, running: Decoder, blocks: list) -> None:
    records = records_of([[(None, False, steps)] for steps in blocks])
    data = make(records, range(1, len(blocks) + 1))  # type: ignore[operator]
    design = read(running, data, "a")
    sent = np.array(records)
    kinds = np.where(sent[:, 2] == files.COLOUR_CHANGE, Command.COLOUR_CHANGE, sent[:, 2])
    assert needle_points(design.xy_mm * 10, design.command) == needle_points(sent[:, :2], kinds)
    assert len(set(design.colours_srgb)) == len(blocks)


EXTENSIONS = st.sampled_from([one.name for one in known_formats()])
HEADS = st.sampled_from(
    (
        b"",
        b"#PES0060",
        b"#PEC0001LA:",
        b"%vsm%\0",
        b"\x5b\xaf\xc8\0",
        b"LA:a\r",
        b"STX",
        b"Embroidery disk created",
    )
)


@settings(QUICK, max_examples=1500)
@given(head=HEADS, tail=st.binary(max_size=1500), extension=EXTENSIONS)
def test_any_bytes_give_a_design_or_the_one_error(
    running: Decoder, head: bytes, tail: bytes, extension: str
) -> None:
    try:
        design = read(running, head + tail, f"a.{extension}")
    except InputError as problem:
        text, design = str(problem), None
    if design is None:
        assert text.count("\n") == 0 < len(text)
        assert running.process.poll() is None
        return
    assert (design.command == Command.STITCH).any()
    assert np.isfinite(design.xy_mm).all()
    assert len(design.colours_srgb) >= 1
