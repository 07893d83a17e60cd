"""Gaps against polygons: swept threads joined by a geometry library, and the discs that fit between them."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
import shapely
from inspect_pieces import CHANGE, inspected, moved, shifted
from numpy.typing import NDArray
from plan_pieces import box_fill, column, straight
from skimage.draw import polygon2mask

from render.draw.cover import draw_cover
from render.inspect import Piece
from render.inspect.gaps import gaps
from render.model import CLOTH, Window

PIXEL_MM = 0.05
# How drawn threads differ from straight strips: narrower at the hole, over so much, and on the
# average over their uneven length (all estimates).
AT_HOLE, TAPER_MM, MEAN_WIDTH, CAP = 0.80, 0.25, 0.95, 0.5


def outlines(piece: Piece) -> list[NDArray[np.float64]]:
    """What each stitch's thread sweeps, as a closed line."""
    half = piece.threads[0].laid_width_mm / 2 * MEAN_WIDTH
    lines = []
    for a, b in zip(piece.sewn.start_mm, piece.sewn.end_mm, strict=True):
        length = float(np.hypot(*(b - a)))
        if length < 1e-6:
            continue
        along, taper = (b - a) / length, min(TAPER_MM, 0.45 * length)
        side = np.array([-along[1], along[0]])
        cap = CAP * half
        ends = [(-cap, 0.0), (-0.7 * cap, 0.71 * AT_HOLE), (0.0, AT_HOLE), (taper / 2, 0.95), (taper, 1.0)]
        spine = ends + [(length - at, width) for at, width in reversed(ends)]
        right = [a + along * at + side * half * width for at, width in spine]
        left = [a + along * at - side * half * width for at, width in reversed(spine)]
        lines.append(np.array(right + left))
    return lines


def swept(piece: Piece) -> shapely.Geometry:
    return shapely.union_all([shapely.Polygon(line).buffer(0) for line in outlines(piece)])


def widest(piece: Piece, box: tuple[float, float, float, float]) -> tuple[float, float]:
    """Diameter of the largest disc in a box that touches no thread, mm, and the open area, mm2."""
    open_ = shapely.difference(shapely.box(*box), swept(piece))
    parts = [part for part in shapely.get_parts(open_) if part.area > 0.02]
    if not parts:
        return 0.0, 0.0
    radii = [float(shapely.length(shapely.maximum_inscribed_circle(part, tolerance=0.005))) for part in parts]
    return 2 * max(radii), sum(part.area for part in parts)


def agrees(piece: Piece, box: tuple[float, float, float, float]) -> None:
    """The printed width is that of the largest disc, within 15 % or one pixel."""
    true_mm, _ = widest(piece, box)
    (one,) = gaps(piece)
    assert one.size_mm == pytest.approx(true_mm, rel=0.15, abs=PIXEL_MM)
    x, y = one.where_mm
    assert box[0] - 0.5 <= x <= box[2] + 0.5
    assert box[1] - 0.1 <= y <= box[3] + 0.1


@cache
def two_fields() -> Piece:
    """Rows beside rows, which close as programmed."""
    upper = box_fill(14.0, 8.0, 0.4, 3.5)
    return inspected(upper, CHANGE, moved(upper, 0.0, 8.4))


@pytest.mark.parametrize("open_mm", [0.45, 0.6, 0.9, 1.3])
def test_width_along_rows(open_mm: float) -> None:
    agrees(shifted(two_fields(), 1, (0.0, open_mm)), (0.5, 7.6, 13.5, 9.0 + open_mm))


@pytest.mark.parametrize("way_deg", [60.0, 75.0, 110.0])
def test_width_when_pulled_aslant(way_deg: float) -> None:
    x, y = 0.8 * np.cos(np.deg2rad(way_deg)), 0.8 * np.sin(np.deg2rad(way_deg))
    agrees(shifted(two_fields(), 1, (x, y)), (max(x, 0) + 0.5, 7.6, 13.5 + min(x, 0), 9.6))


@cache
def field_and_border() -> Piece:
    """The ends of rows under the edge of a satin, which overlap by 0.4 mm as programmed."""
    border = column(straight(8.0), 3.0, 0.4).turned(90.0)
    left, right = border.points_mm[:, 0].min(), border.points_mm[:, 0].max()
    assert right - left == pytest.approx(3.0, abs=0.1)
    top = border.points_mm[:, 1].min()
    field = box_fill(14.0, 8.0, 0.4, 3.5)
    return inspected(field, CHANGE, moved(border, 14.0 - left - 0.4, -top))


@pytest.mark.parametrize("open_mm", [0.9, 1.1, 1.4, 1.7])
def test_width_at_the_ends_of_rows(open_mm: float) -> None:
    agrees(shifted(field_and_border(), 1, (open_mm, 0.0)), (13.2, 0.5, 14.8 + open_mm, 7.5))


def test_a_gap_is_as_wide_whichever_way_it_runs() -> None:
    widths = []
    for turn_deg in (0.0, 30.0, 45.0, 90.0):
        upper = box_fill(14.0, 8.0, 0.4, 3.5)
        turn = np.deg2rad(turn_deg)
        down = np.array([-np.sin(turn), np.cos(turn)])
        lower = moved(upper.turned(turn_deg), *(8.4 * down))
        piece = inspected(upper.turned(turn_deg), CHANGE, lower)
        (one,) = gaps(shifted(piece, 1, tuple(0.8 * down)))
        widths.append(one.size_mm or 0.0)
    # Machine files round to 0.1 mm: turned rows are as uneven.
    assert widths == pytest.approx([widths[0]] * 4, abs=0.12)


def test_open_area_is_that_between_polygons() -> None:
    piece = shifted(two_fields(), 1, (0.0, 0.8))
    box = (0.5, 7.6, 13.5, 9.8)
    _, area_mm2 = widest(piece, box)
    window = piece.sewn_cover.window
    left, right = (round((x - window.centre_mm[0]) / PIXEL_MM + window.cols / 2) for x in (box[0], box[2]))
    top, bottom = (round((y - window.centre_mm[1]) / PIXEL_MM + window.rows / 2) for y in (box[1], box[3]))
    open_ = piece.sewn_cover.stitch[top:bottom, left:right] == CLOTH
    assert open_.sum() * PIXEL_MM**2 == pytest.approx(area_mm2, rel=0.08)


def test_cover_is_that_of_filled_outlines() -> None:
    """Each thread filled by another library covers the same pixels, but for thread's unevenness."""
    piece = two_fields()
    window = Window((7.0, 8.0), 20.0, 280, 240)
    cover = draw_cover(piece.sewn, threads=piece.threads, job=piece.job, window=window)
    filled = np.zeros((window.rows, window.cols), bool)
    for line in outlines(piece):
        x, y = ((line - window.centre_mm) * window.px_per_mm).T
        filled |= polygon2mask(
            filled.shape, np.stack([y + window.rows / 2 - 0.5, x + window.cols / 2 - 0.5], 1)
        )
    sewn = cover.stitch != CLOTH
    assert sewn.mean() == pytest.approx(filled.mean(), abs=0.02)
    assert (sewn == filled).mean() > 0.97
