"""The faults of the faulty crest are in its files, where its list says."""

from __future__ import annotations

import tomllib
from typing import Any

import numpy as np
import pytest
from example_designs import EXAMPLES, needle_points_mm, stitch_ends_mm, truth
from numpy.typing import NDArray

from render.model import Command
from render.read import read_design


def faults() -> list[dict[str, Any]]:
    listed = tomllib.loads((EXAMPLES / "crest-faulty.truth.toml").read_text("utf-8"))
    return list(listed["fault"])


def fault(kind: str) -> dict[str, Any]:
    (found,) = [row for row in faults() if row["kind"] == kind]
    return found


def test_planted_jumps_are_in_the_file_where_the_list_says() -> None:
    ends = stitch_ends_mm("crest-faulty")
    jumps = [row for row in faults() if row["kind"] == "uncut-jump"]
    assert len(jumps) == 6
    assert sorted(row["size_mm"] for row in jumps)[0] <= 2.5
    assert sorted(row["size_mm"] for row in jumps)[-1] >= 30
    offset = needle_points_mm("crest-faulty").min(axis=0) - np.min([start for start, _ in ends], axis=0)
    for row in jumps:
        before, after = row["stitches"]
        leaves, arrives = ends[before][1] + offset, ends[after][0] + offset
        assert np.abs(leaves - row["where_mm"]).max() <= 0.11, row
        assert np.hypot(*(arrives - leaves)) == pytest.approx(row["size_mm"], abs=0.15)


def test_planted_jumps_are_not_cut_in_a_format_that_tells() -> None:
    sound, faulty = (read_design(str(EXAMPLES / f"{name}.exp")) for name in ("crest", "crest-faulty"))
    jumps = [row["size_mm"] for row in faults() if row["kind"] == "uncut-jump"]
    bare = []
    stitch, cut, jumped = None, True, False
    for xy, command in zip(faulty.xy_mm, faulty.command, strict=True):
        if command == Command.STITCH:
            if jumped and not cut:
                bare.append(float(np.hypot(*(xy - stitch))))
            stitch, cut, jumped = xy, False, False
        elif command == Command.JUMP:
            jumped = True
        else:
            cut = True
    for size in jumps:
        assert min(abs(size - way) for way in bare) < 0.15, (size, bare)
    assert (sound.command == Command.TRIM).sum() > 30


def test_planted_stitch_lengths_rows_and_order() -> None:
    ends = stitch_ends_mm("crest-faulty")
    lengths = np.array([np.hypot(*(end - start)) for start, end in ends])

    def of(kind: str) -> NDArray[np.float64]:
        first, last = fault(kind)["stitches"]
        return lengths[first : last + 1]

    assert np.median(of("short-stitch")) < 0.35
    assert (of("long-stitch") > 12).all()
    assert len(of("long-stitch")) == 3
    border, band = fault("sequence")["stitches"], fault("gap")["stitches"]
    assert border[1] < band[0]
    objects = {thing["first"]: thing for thing in truth("crest-faulty")["objects"]}
    assert objects[fault("thin-cover")["stitches"][0]]["row_spacing_mm"] == 0.9
    angles = {thing["angle_deg"] for thing in objects.values() if thing["kind"] == "fill"}
    assert angles == {20.0}
    sound = {thing["angle_deg"] for thing in truth("crest")["objects"] if thing["kind"] == "fill"}
    assert len(sound) >= 5
    nose = fault("crowding")["stitches"]
    assert sum(thing["name"] == "nose" and thing["kind"] == "satin" for thing in objects.values()) == 4
    assert nose[0] < nose[1]


def test_planted_gap_shows_cloth_on_every_side() -> None:
    """No needle point of the ground lies in the ring that was left bare."""
    x, y = fault("gap")["where_mm"]
    middle, half = float(np.hypot(x, y)), fault("gap")["size_mm"] / 2
    radius = np.hypot(*needle_points_mm("crest-faulty").T)
    sound = np.hypot(*needle_points_mm("crest").T)

    def bare(radii: NDArray[np.float64]) -> int:
        return int((np.abs(radii - middle) < half - 0.2).sum())

    assert bare(radius) == 0
    assert bare(sound) > 20
