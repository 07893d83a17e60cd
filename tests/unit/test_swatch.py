"""The test swatch: what the file holds, read back as a machine would, and the papers with it."""

from __future__ import annotations

import csv
import io
from collections import Counter
from itertools import combinations

import numpy as np
import pytest
from PIL import Image

from render.errors import UsageError
from render.materials.machines import load_machine
from render.materials.stabilisers import smallest_hoop
from render.model import Command, Design, SewPlan
from render.plan import plan
from render.read import read_design
from render.swatch import make_swatch, readings_template
from render.swatch.columns import DIGIT_MM, DIGITS
from render.swatch.sheet import LEFT_MM, MAP_MM, PX_PER_MM, RULER_MM, WORDS, draw_sheet
from render.write.page import encode_pages, page_format
from render.write.stitch_file import encode_stitches, stitch_endings, stitch_format

SWATCH = make_swatch()


def read_back(ending: str) -> SewPlan:
    design = read_design(encode_stitches(SWATCH.design, ending), name=f"swatch.{ending}")
    assert design.notes == ()
    return plan(design, load_machine("unknown"))


@pytest.mark.parametrize("ending", sorted(stitch_endings()))
def test_every_format_holds_the_columns_as_stated(ending: str) -> None:
    sewing = read_back(ending)
    assert len(sewing.start_mm) == SWATCH.stitches
    for column in SWATCH.columns:
        part = sewing.objects[sewing.object_index[column.first]]
        assert (part.kind, part.first, part.last) == ("satin", column.first, column.last)
        # Satin leans by half its spacing: its width is that of the column, its stitches are longer.
        assert part.width_mm == pytest.approx(column.width_mm, abs=0.02)
        assert part.row_spacing_mm == pytest.approx(column.spacing_mm, abs=0.005)
        level = min(part.angle_deg, 180 - part.angle_deg)
        assert level == pytest.approx(0 if column.stitches == "across" else 90, abs=5)
        points = np.concatenate([sewing.start_mm, sewing.end_mm[-1:]])[column.first : column.last + 2]
        corner = points.min(0) - sewing.box_mm[:2] + plan(SWATCH.design, load_machine("unknown")).box_mm[:2]
        assert corner == pytest.approx(column.corner_mm, abs=0.01)
        assert np.ptp(points, axis=0) == pytest.approx(column.size_mm, abs=0.01)


def test_widths_spacings_directions_and_repeats() -> None:
    kinds = Counter((c.stitches, c.width_mm, c.spacing_mm) for c in SWATCH.columns)
    assert set(kinds.values()) == {3}
    for way in ("across", "along"):
        assert {w for way_, w, s in kinds if way_ == way and s == 0.4} == {2, 3, 4, 6, 8}
        assert {(w, s) for way_, w, s in kinds if way_ == way and s != 0.4} == {(5, 0.3), (7, 0.6)}


def test_it_holds_no_underlay_and_every_thread_is_tied_at_both_ends() -> None:
    sewing = read_back("dst")
    assert "underlay" not in {part.kind for part in sewing.objects}
    begins = np.flatnonzero(sewing.thread_breaks)
    assert len(begins) == len(SWATCH.columns) + 6 + 2  # columns, numbers of rows, arrow and line
    for first, stop in zip(begins, [*begins[1:], len(sewing.start_mm)], strict=True):
        kinds = [sewing.objects[sewing.object_index[k]].kind for k in (first, stop - 1)]
        assert kinds == ["tie", "tie"]


def test_it_fits_a_common_hoop_and_a_short_run() -> None:
    sewing = read_back("dst")
    left, top, right, bottom = sewing.box_mm
    assert right - left < 100
    assert bottom - top < 100
    assert smallest_hoop(right - left, bottom - top).width_mm <= 130
    assert len(sewing.start_mm) < 6000
    length = np.hypot(*(sewing.end_mm - sewing.start_mm).T)
    assert length.min() > 0.3  # shorter ones break thread (common practice, no source)
    assert length.max() < 8.1


def test_a_calliper_fits_between_the_columns() -> None:
    for one, other in combinations(SWATCH.columns, 2):
        gaps = [
            max(
                one.corner_mm[k] - other.corner_mm[k] - other.size_mm[k],
                other.corner_mm[k] - one.corner_mm[k] - one.size_mm[k],
            )
            for k in (0, 1)
        ]
        assert max(gaps) > 2.0


def test_the_digit_sewn_at_a_column_is_its_width() -> None:
    points = SWATCH.design.xy_mm[SWATCH.design.command == Command.STITCH]
    starts = np.flatnonzero(SWATCH.design.command == Command.JUMP)
    run_of = [int((SWATCH.design.command[:k] == Command.STITCH).sum()) for k in starts]
    for number, column in enumerate(SWATCH.columns):
        # Each run begins with a needle point that is no stitch yet.
        begin = max(k for r, k in enumerate(run_of) if k - r <= column.first)
        run = points[begin : begin + column.first]
        strokes = np.array(DIGITS[column.width_mm]) * DIGIT_MM
        sewn = run[: len(run)] - run[0] + strokes[0]
        for corner in strokes:
            assert np.hypot(*(sewn - corner).T).min() < 0.1, number


def test_the_same_swatch_every_time() -> None:
    again = make_swatch.__wrapped__()
    for ending in stitch_endings():
        assert encode_stitches(again.design, ending) == encode_stitches(SWATCH.design, ending)


@pytest.mark.parametrize("ending", ["pes", "jef", "vp3", "tbf", "u01", "xxx", "dst"])
def test_stops_and_changes_are_written_too(ending: str) -> None:
    """Two stops in one colour, then another: each block comes back, and in its own colour."""
    red, blue = (1.0, 0.0, 0.0), (0.0, 0.0, 1.0)
    halts = (Command.STOP, Command.STOP, Command.COLOUR_CHANGE)
    xy = [(x, x % 3) for x in range(12) for _ in range(1 + (x in (3, 6, 9)))]
    command = [Command.STITCH] * len(xy)
    for number, halt in enumerate(halts):
        command[4 * number + 4] = halt
    design = Design(
        "two",
        "x",
        np.array(xy, float),
        np.array(command, np.uint8),
        (red,) * 3 + (blue,),
        "explicit",
        False,
        "",
    )
    back = read_design(encode_stitches(design, ending), name=f"two.{ending}")
    sewn = plan(back, load_machine("unknown"))
    tells = ending not in ("dst", "xxx")
    kinds = ["stop", "stop", "colour-change"] if tells else ["colour-change"] * 3
    assert [block.ends_with for block in sewn.blocks] == [*kinds, "end"]
    if ending in ("vp3", "tbf", "xxx"):
        assert back.colours_srgb == (red, red, red, blue)
    elif ending in ("pes", "jef"):  # from a palette
        first, *same, last = back.colours_srgb
        assert same == [first, first] != [last, last]
    assert sewn.end_mm[-1] - sewn.start_mm[0] == pytest.approx([11, 2], abs=0.11)


@pytest.mark.parametrize("name", ["swatch.txt", "swatch", "swatch.gcode", "swatch.pmv", "swatch.csv"])
def test_other_endings_are_no_stitch_files(name: str) -> None:
    with pytest.raises(UsageError, match=r"names no stitch format .*\.dst"):
        stitch_format(name)


def test_the_list_holds_every_column_with_room_for_readings() -> None:
    rows = list(csv.DictReader(io.StringIO(readings_template(SWATCH))))
    assert {(int(r["row"]), int(r["width_mm"])) for r in rows} == {
        (c.row, c.width_mm) for c in SWATCH.columns
    }
    assert len(rows) == len(SWATCH.columns)
    by_name = {(c.row, c.width_mm): c for c in SWATCH.columns}
    for r in rows:
        column = by_name[int(r["row"]), int(r["width_mm"])]
        assert (float(r["spacing_mm"]), r["stitches"]) == (column.spacing_mm, column.stitches)
        assert [r[f"reading_{k}_mm"] for k in (1, 2, 3)] == ["", "", ""]


def dark(rows: slice, cols: slice) -> np.ndarray:
    return PAGE.pixels[rows, cols, 0] < 100


def px(mm: float) -> int:
    return round(mm * PX_PER_MM)


PAGE = draw_sheet(SWATCH)


def test_the_sheet_is_a4_and_its_ruler_is_true() -> None:
    assert PAGE.pixels.shape[:2] == (3508, 2480)  # 297 x 210 mm at 300 dpi, ISO 216
    # The row just above the ruler's line, where every tick stands.
    marks = np.flatnonzero(dark(slice(px(RULER_MM) - 8, px(RULER_MM) - 7), slice(0, px(LEFT_MM + 102)))[0])
    assert marks[-1] - marks[0] == pytest.approx(100 * PX_PER_MM, abs=2)
    assert len(np.flatnonzero(np.diff(marks) > 3)) == 100


def test_the_swatch_on_the_sheet_is_at_true_size() -> None:
    column = next(c for c in SWATCH.columns if (c.row, c.width_mm) == (1, 8))
    x, y = MAP_MM[0] + column.corner_mm[0], MAP_MM[1] + column.corner_mm[1]
    line = np.flatnonzero(dark(slice(px(y + 1), px(y + 1) + 1), slice(px(x - 1), px(x + 8.2)))[0])
    assert line[-1] - line[0] == pytest.approx(8 * PX_PER_MM, abs=3)


def test_the_sheet_keeps_its_margins_on_a4_and_letter() -> None:
    inside = np.zeros(PAGE.pixels.shape[:2], bool)
    inside[px(12) : px(268), px(12) : px(198)] = True  # Letter is 279 mm high
    assert (PAGE.pixels[~inside] == 255).all()


def test_the_sheet_says_to_stop_the_machine_first() -> None:
    assert ("Stop the machine before hands or scissors go near the needle.", True) in WORDS


def test_pages_are_written_at_their_size_and_the_same_every_time() -> None:
    pdf = encode_pages([PAGE], "PDF")
    assert pdf == encode_pages([PAGE], "PDF")
    assert b"/MediaBox [ 0 0 595.2 841.92 ]" in pdf  # A4 in points, to the pixel
    assert b"Date" not in pdf
    png = Image.open(io.BytesIO(encode_pages([PAGE], "PNG")))
    assert png.info["dpi"] == pytest.approx((300, 300), abs=0.01)
    assert (np.asarray(png) == PAGE.pixels[:, :, 0]).all()
    with pytest.raises(UsageError, match=r"end it in \.pdf or \.png"):
        page_format("sheet.jpg")
