"""What each common format holds comes back: needle points, cuts, jumps, stops, colours."""

from __future__ import annotations

import numpy as np
import pytest
import stitch_files as files

from render.model import Command, Design
from render.read import read_design

WRITTEN = ("dst", "exp", "pes", "pec", "jef", "vp3", "xxx", "u01", "tbf")
# Where the needle goes in `SAMPLE`, in mm; no format may lose or add a point.
POINTS = [
    (0, 0),
    (2, 0),
    (22, 0),
    (24, 1),
    (44, 1),
    (45, 3),
    (60, 1),
    (61, 1),
    (62, 1),
    (63, 1),
    (64, 1),
    (65, 1),
]
RED, GREEN = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0)


def at_needle_points(design: Design) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in design.xy_mm[design.command == Command.STITCH].round(6)]


def between(design: Design, first: int, last: int) -> list[Command]:
    """The commands between two needle points, by their numbers."""
    at = np.flatnonzero(design.command == Command.STITCH)
    return [Command(c) for c in design.command[at[first] + 1 : at[last]]]


@pytest.mark.parametrize("extension", WRITTEN)
def test_needle_points_come_back(extension: str) -> None:
    design = read_design(files.write(extension), name=f"sample.{extension}")
    assert design.format == extension
    assert at_needle_points(design) == POINTS
    assert not [note for note in design.notes if "cut off" in note or "named" in note]


@pytest.mark.parametrize("extension", WRITTEN)
def test_a_long_stitch_is_one_step_or_split_as_the_format_says(extension: str) -> None:
    design = read_design(files.write(extension))
    inside = between(design, 1, 2)
    assert design.long_stitches_split == (extension not in ("pes", "pec", "vp3"))
    assert inside == ([Command.JUMP] if design.long_stitches_split else [])
    if inside:
        at = int(np.flatnonzero(design.command == Command.JUMP)[0])
        # Jump and stitch make the same step: that is how it differs from a travel.
        assert np.diff(design.xy_mm[at - 1 : at + 2], axis=0).tolist() == [[10, 0], [10, 0]]


@pytest.mark.parametrize("extension", WRITTEN)
def test_cuts_and_jumps_come_back_as_far_as_the_format_holds_them(extension: str) -> None:
    design = read_design(files.write(extension))
    uncut, cut = between(design, 3, 4), between(design, 5, 6)
    jump, trim = Command.JUMP, Command.TRIM
    expected = {
        # A cut is a run of at least three jumps, in the eyes of some machines.
        "dst": ("inferred", [jump, jump], [jump] * 5),
        "jef": ("by-length", [jump, jump], [jump, jump]),
        **dict.fromkeys(("exp", "xxx", "u01", "tbf"), ("explicit", [jump, jump], [trim, jump, jump])),
        **dict.fromkeys(("pes", "pec"), ("every-jump", [trim, jump], [trim, jump])),
        # Uncut jumps are lost; the way after a cut is shown as a jump again.
        "vp3": ("explicit", [], [trim, jump]),
    }
    assert (design.trim_rule, uncut, cut) == expected[extension]


@pytest.mark.parametrize("extension", WRITTEN)
def test_stops_and_changes_come_back_as_far_as_the_format_holds_them(extension: str) -> None:
    design = read_design(files.write(extension))
    stop = [c for c in between(design, 7, 8) if c in (Command.STOP, Command.COLOUR_CHANGE)]
    change = [c for c in between(design, 9, 10) if c in (Command.STOP, Command.COLOUR_CHANGE)]
    expected = {
        **{one: [Command.COLOUR_CHANGE] for one in ("dst", "exp", "xxx")},
        **{one: [Command.STOP] for one in ("pes", "pec", "jef", "u01", "tbf")},
        "vp3": [],
    }
    assert stop == expected[extension]
    assert change == [Command.COLOUR_CHANGE]
    changes = np.isin(design.command, (Command.STOP, Command.COLOUR_CHANGE)).sum()
    assert len(design.colours_srgb) == changes + 1


@pytest.mark.parametrize(
    ("extension", "settings", "expected"),
    [
        ("dst", {}, (None, None, None)),
        # The stop has become a change, so the file's second colour falls to the wrong block.
        ("dst", {"version": "extended"}, (RED, GREEN, None)),
        ("xxx", {}, (RED, GREEN, None)),
        ("exp", {}, (None, None, None)),
        ("u01", {}, (None, None, None)),
        ("pes", {"version": 6}, (RED, RED, GREEN)),
        ("tbf", {}, (RED, RED, GREEN)),
        ("vp3", {}, (RED, GREEN)),
    ],
)
def test_exact_colours_come_back(extension: str, settings: dict[str, object], expected: object) -> None:
    design = read_design(files.write(extension, **settings))
    assert design.colours_srgb == expected
    shifted = any("a stop may be written as a colour change" in note for note in design.notes)
    assert shifted == (extension == "xxx" or bool(settings.get("version") == "extended"))


@pytest.mark.parametrize("extension", ["pes", "pec", "jef"])
def test_palette_colours_are_near(extension: str) -> None:
    first, after_stop, second = read_design(files.write(extension)).colours_srgb
    assert first is not None
    assert second is not None
    assert first == after_stop
    assert first[0] > 0.9
    assert max(first[1:]) < 0.15
    assert second[1] == max(second) > 0.7


def test_needles_choose_the_colours_of_tbf_whatever_their_order() -> None:
    records = [(10 * i, 10 * (i % 2), files.STITCH) for i in range(9)]
    for at in (6, 3):
        records.insert(at, (records[at - 1][0], records[at - 1][1], files.COLOUR_CHANGE))
    data = bytearray(files.write("tbf", records, (files.RED, files.GREEN, files.BLUE)))
    assert data[0x10A:0x10E] == b"\1\2\3\0"
    data[0x10A:0x10D] = b"\3\1\3"
    assert read_design(bytes(data)).colours_srgb == ((0, 0, 1), RED, (0, 0, 1))


# Bytes of our own for the formats that the library only reads: they agree with its
# readers, not yet with machine files.
HAND_MADE = [
    (0, 0, files.STITCH),
    (20, 5, files.STITCH),
    (40, 9, files.STITCH),
    (100, 20, files.JUMP),
    (110, 20, files.STITCH),
    (120, 25, files.STITCH),
    (120, 25, files.COLOUR_CHANGE),
    (130, 30, files.STITCH),
    (140, 31, files.STITCH),
]


@pytest.mark.parametrize(
    ("make", "format_name", "rule", "split"),
    [
        (files.sew, "sew", "never", True),
        (files.shv, "shv", "never", False),
        (files.hus, "hus", "explicit", True),
    ],
)
def test_formats_that_are_only_read(make: object, format_name: str, rule: str, split: bool) -> None:
    design = read_design(make(HAND_MADE, (3, 5)))  # type: ignore[operator]
    assert (design.format, design.trim_rule, design.long_stitches_split) == (format_name, rule, split)
    assert [tuple(r) for r in np.c_[design.xy_mm * 10, design.command].round().astype(int).tolist()] == [
        (x, y, Command.COLOUR_CHANGE if c == files.COLOUR_CHANGE else c) for x, y, c in HAND_MADE
    ]
    first, second = design.colours_srgb
    assert first is not None
    assert second is not None
    assert first != second
    assert not design.notes


def test_hus_holds_cuts() -> None:
    records = [*HAND_MADE[:3], (40, 9, files.TRIM), *HAND_MADE[3:]]
    design = read_design(files.hus(records, (3, 5)))
    assert [Command(c).name for c in design.command[2:5]] == ["STITCH", "TRIM", "JUMP"]


def test_sequins_of_dst_are_kept() -> None:
    records = [(10 * i, 0, files.STITCH) for i in range(3)]
    data = bytearray(files.write("dst", records, ()))
    end = data.rindex(b"\0\0\xf3")
    # Sequin mode on, two sequins dropped 0.1 mm and 0.9 mm on, mode off (bits of a jump).
    data[end:end] = b"\0\0\x43" + b"\1\0\x83" + b"\4\0\x83" + b"\0\0\x43"
    design = read_design(bytes(data))
    sequins = design.command == Command.SEQUIN
    assert design.xy_mm[sequins].round(3).tolist() == [[2.1, 0], [3.0, 0]]
    assert not (design.command == Command.JUMP).any()


def test_a_pes_that_marks_only_some_jumps_tells_cuts_by_code() -> None:
    data = files.write("pes")
    # A jump of 20 mm along x: a twelve-bit value of 200 with the cut bit (0x20) on both axes.
    cut = bytes((0xA0, 200, 0xA0, 0))
    assert data.count(cut) == 1
    design = read_design(data.replace(cut, bytes((0x90, 200, 0x90, 0))))
    assert design.trim_rule == "explicit"
    assert between(design, 3, 4) == [Command.JUMP]
