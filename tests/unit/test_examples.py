"""The example designs: made again byte for byte, decoded alike from every format, and as they say."""

from __future__ import annotations

import subprocess
import sys
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from example_designs import EXAMPLES, maker, needle_points_mm, stitch_ends_mm, truth
from numpy.typing import NDArray

from render.materials.job import make_job
from render.materials.threads import load_threads
from render.model import Command
from render.read import read_design

FORMATS = ("dst", "exp", "jef", "pes", "vp3")
# Stitches, width and height in mm; the tallest cap front leaves about 55 mm (common practice, no source).
RANGES = {
    "crest": ((8000, 11500), (80, 85), (80, 85)),
    "wordmark": ((2500, 4500), (88, 92), (20, 30)),
    "cap-badge": ((2500, 5000), (50, 65), (40, 55)),
    "applique-oar": ((1500, 3000), (110, 130), (20, 30)),
    "crest-faulty": ((8000, 11500), (80, 85), (80, 85)),
}
SOUND = [name for name in RANGES if name != "crest-faulty"]


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """All designs that ship, made by the command as a user would run it."""
    folder = tmp_path_factory.mktemp("made")
    subprocess.run([sys.executable, str(EXAMPLES / "make.py"), str(folder)], check=True)
    return folder


def test_shipped_files_are_those_the_generator_writes(made: Path) -> None:
    names = sorted(path.name for path in made.iterdir())
    assert len(names) == len(RANGES) * (len(FORMATS) + 2) + 1
    for name in names:
        assert (made / name).read_bytes() == (EXAMPLES / name).read_bytes(), name


def test_examples_stay_small() -> None:
    assert sum(path.stat().st_size for path in EXAMPLES.glob("*.*")) < 1_500_000


@pytest.mark.parametrize("name", RANGES)
@pytest.mark.parametrize("ending", FORMATS)
def test_every_format_holds_the_same_needle_points(name: str, ending: str) -> None:
    """VP3 has no jumps: where the thread is dragged it has a stitch more, which only the faulty
    crest does."""
    want = needle_points_mm(name)
    design = read_design(str(EXAMPLES / f"{name}.{ending}"))
    have = design.xy_mm[design.command == Command.STITCH]
    have = have - have.min(axis=0) + want.min(axis=0)
    if ending == "vp3":
        assert _in_order(want, have), "a needle point is missing from the VP3"
        assert len(have) - len(want) <= (12 if name == "crest-faulty" else 0)
        return
    assert have.shape == want.shape
    assert np.abs(have - want).max() <= 0.1


def _in_order(want: NDArray[np.float64], have: NDArray[np.float64]) -> bool:
    k = 0
    for point in want:
        while k < len(have) and np.abs(have[k] - point).max() > 0.11:
            k += 1
        k += 1
    return k <= len(have)


@pytest.mark.parametrize("name", RANGES)
def test_size_and_number_of_stitches(name: str) -> None:
    (few, many), (narrow, wide), (low, high) = RANGES[name]
    width, height = np.ptp(needle_points_mm(name), axis=0)
    assert few <= truth(name)["stitches"] <= many
    assert narrow <= width <= wide
    assert low <= height <= high


@pytest.mark.parametrize("name", RANGES)
def test_truth_names_stitches_in_order_without_overlap(name: str) -> None:
    objects = truth(name)["objects"]
    assert objects[0]["first"] == 0
    assert objects[-1]["last"] == truth(name)["stitches"] - 1
    for before, after in pairwise(objects):
        assert before["first"] <= before["last"] < after["first"]
        assert before["block"] <= after["block"]
    named = sum(thing["last"] - thing["first"] + 1 for thing in objects)
    assert named >= 0.97 * truth(name)["stitches"]


@pytest.mark.parametrize("name", RANGES)
def test_truth_counts_the_stitches_of_the_file(name: str) -> None:
    assert len(stitch_ends_mm(name)) == truth(name)["stitches"]


@pytest.mark.parametrize("name", RANGES)
def test_satin_is_as_wide_and_fills_run_at_the_angle_that_the_truth_says(name: str) -> None:
    ends = stitch_ends_mm(name)
    checked = 0
    for thing in truth(name)["objects"]:
        ways = np.array([end - start for start, end in ends[thing["first"] : thing["last"] + 1]])
        lengths = np.hypot(*ways.T)
        if thing["kind"] == "satin":
            assert np.median(lengths) == pytest.approx(thing["width_mm"], rel=0.25, abs=0.15), thing
            checked += 1
        if thing["kind"] == "fill" and len(ways) > 100:
            long = ways[lengths > 2]
            turn = np.degrees(np.arctan2(long[:, 1], long[:, 0])) - thing["angle_deg"]
            assert np.median(np.abs((turn + 90) % 180 - 90)) < 1.5, thing
            checked += 1
    assert checked


@pytest.mark.parametrize("name", SOUND)
def test_sound_designs_keep_their_stitches_sewable(name: str) -> None:
    """At least 0.4 mm but for rounding in sharp corners, none that snags (common practice, no source)."""
    lengths = np.array([np.hypot(*(end - start)) for start, end in stitch_ends_mm(name)])
    assert lengths.max() <= 7.2
    assert (lengths < 0.45).mean() < 0.01


@pytest.mark.parametrize("name", SOUND)
def test_sound_designs_cut_before_every_move(name: str) -> None:
    """EXP has a code for a trim: there every move within a colour follows one."""
    design = read_design(str(EXAMPLES / f"{name}.exp"))
    stitch, cut = None, True
    for xy, command in zip(design.xy_mm, design.command, strict=True):
        if command == Command.STITCH:
            assert cut or stitch is None or np.hypot(*(xy - stitch)) <= 7.2
            stitch, cut = xy, False
        elif command != Command.JUMP:
            cut = True


def test_applique_is_placed_tacked_and_covered_with_a_stop_between() -> None:
    design = read_design(str(EXAMPLES / "applique-oar.pes"))
    names = [thing["name"] for thing in truth("applique-oar")["objects"] if thing["kind"] != "tie"]
    order = [names.index(name) for name in ("shaft", "placement", "tack-down", "cover")]
    assert order == sorted(order)
    blocks = {thing["name"]: thing["block"] for thing in truth("applique-oar")["objects"]}
    assert blocks["placement"] + 1 == blocks["tack-down"]
    assert blocks["tack-down"] + 1 == blocks["cover"]
    ends = (design.command == Command.STOP) | (design.command == Command.COLOUR_CHANGE)
    assert ends.sum() == max(blocks.values())


def test_cap_badge_is_sewn_from_the_brim_up_and_the_middle_out() -> None:
    ends = stitch_ends_mm("cap-badge")
    heights: dict[str, float] = {}
    sides: dict[str, list[float]] = {}
    middle = np.mean([np.min(ends, axis=(0, 1)), np.max(ends, axis=(0, 1))], axis=0)
    for thing in truth("cap-badge")["objects"]:
        if thing["kind"] in ("satin", "fill"):
            points = np.array([end for _, end in ends[thing["first"] : thing["last"] + 1]])
            heights.setdefault(thing["name"].split()[0], float(points[:, 1].mean()))
            sides.setdefault(thing["name"].split()[0], []).append(float(abs(points[:, 0].mean() - middle[0])))
    assert heights["letter"] > heights["wave"] > heights["head"]  # y runs down
    assert list(heights)[:2] == ["letter", "wave"]
    assert sides["letter"][0] < 8
    assert max(sides["letter"]) > 25


@pytest.mark.parametrize("name", RANGES)
def test_thread_lists_have_a_thread_a_colour(name: str) -> None:
    threads = load_threads(str(EXAMPLES / f"{name}.threads.toml"))
    blocks = truth(name)["objects"][-1]["block"] + 1
    assert len(threads) == blocks
    assert all(thread.kind == "rayon" and thread.label for thread in threads)


@pytest.mark.parametrize("name", ["crest", "applique-oar"])
def test_job_files_can_be_used(name: str) -> None:
    job = make_job(str(EXAMPLES / f"{name}.job.toml"))
    assert job.threads
    assert job.finish == "cleaned"


def test_jacket_back_is_made_on_demand() -> None:
    sewing = maker().jacket_back()
    width, height = np.ptp(sewing.needle_points_mm(), axis=0)
    assert sewing.stitches > 100_000
    assert 270 <= width <= 290
    assert 270 <= height <= 290
    lengths = [m.part.width_mm for m in sewing.meant if m.part.kind == "split-satin"]
    assert lengths
    steps = np.diff(sewing.needle_points_mm(), axis=0)
    assert np.percentile(np.hypot(*steps.T), 99.5) < 7.5
    assert not list(EXAMPLES.glob("jacket-back.*"))
