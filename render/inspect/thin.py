"""Rows so far apart that what lies below shows. `thin-cover`: their spacing, mm."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.ndimage import maximum_filter, minimum_filter

from render.inspect.places import box_of, named, problem_of
from render.model import AREA_KINDS, CLOTH, Limit, ProblemKind

if TYPE_CHECKING:
    from collections.abc import Iterator

    from render.inspect.piece import Piece
    from render.model import Problem, SewnObject

# A zigzag of spacing s and thread width w leaves (1 - w/s)^2 open, straight rows 1 - w/s: a third of
# either at 0.4 mm thread where the satin's edge is so many times as far apart as the rows are.
SATIN_TIMES = 1.6
LEAST_STITCHES = 12
OPEN_MM = 2.0  # rows further apart are meant to be seen as rows
SEEN_SHARE = 0.3  # of an object's thread that must lie on top
SHOWS_SHARE = 0.1  # of its area that must show what is not its own thread


def thin_cover(piece: Piece) -> Iterator[Problem]:
    """Fills and satins that do not close; open work that the job declares is left alone."""
    for part in piece.plan.objects:
        limits = piece.limits[part.colour_block]
        treatment = piece.job.blocks.get(part.colour_block)
        if treatment is not None and treatment.kind == "open":
            continue
        if part.kind not in AREA_KINDS or part.last - part.first + 1 < LEAST_STITCHES:
            continue
        times = 1.0 if part.kind == "fill" else SATIN_TIMES
        if not part.row_spacing_mm > limits["thin_spacing_mm"] * times + 0.005:
            continue
        if _seen(piece, part) < SEEN_SHARE:
            continue
        cloth, below = _shows(piece, part)
        if cloth + below >= SHOWS_SHARE:
            yield _problem(piece, part, cloth, below, open_work=part.row_spacing_mm > OPEN_MM * times)


def _problem(piece: Piece, part: SewnObject, cloth: float, below: float, *, open_work: bool) -> Problem:
    what, share = ("cloth", cloth) if cloth >= below else ("what is sewn below", below)
    rows, edge = ("rows", "") if part.kind == "fill" else ("stitches", " on one edge")
    usual = piece.limits[part.colour_block]["usual_spacing_mm"]
    return problem_of(
        piece,
        "thin-cover",
        [part],
        # Over other stitching it may be shading.
        severity="note" if open_work else "fix" if cloth >= below else "check",
        size_mm=part.row_spacing_mm,
        cause=(
            f"{named(part)} has its {rows} {part.row_spacing_mm:.2f} mm apart{edge}: {what} shows on "
            f"{100 * share:.0f} % of it"
        ),
        remedy=f"set them {usual:.2f} mm apart, or declare the block open if it is meant so",
    )


def _seen(piece: Piece, part: SewnObject) -> float:
    """Share of an object's stitches that lie on top somewhere in the finished piece."""
    own = np.unique(piece.sewn_cover.stitch[_window(piece, part)])
    count = ((own >= part.first) & (own <= part.last)).sum()
    return float(count / (part.last - part.first + 1))


def _shows(piece: Piece, part: SewnObject) -> tuple[float, float]:
    """Of an object's area as far as nothing lies on it, the shares that show cloth and other threads."""
    stitch = piece.sewn_cover.stitch[_window(piece, part)]
    own = (stitch >= part.first) & (stitch <= part.last)
    reach = 2 * int(min(part.row_spacing_mm, OPEN_MM) / 2 * piece.sewn_cover.window.px_per_mm) + 3
    closed = minimum_filter(maximum_filter(np.pad(own, reach).astype(np.uint8), reach), reach)
    area = closed[reach:-reach, reach:-reach] > 0
    same = own | (piece.plan.colour_block[stitch] == part.colour_block) & (stitch >= 0)
    free = area & (same | (stitch < part.first))
    cloth = free & (stitch == CLOTH)
    return float(cloth.sum() / free.sum()), float((free & ~same & ~cloth).sum() / free.sum())


def _window(piece: Piece, part: SewnObject) -> tuple[slice, slice]:
    """The pixels of an object's box in the cover."""
    _, box = box_of(piece.sewn, part.first, part.last)
    rows, cols = piece.sewn_cover.window.pixels_at(np.reshape(box, (2, 2)))
    return slice(rows[0], rows[1] + 1), slice(cols[0], cols[1] + 1)


CHECKS = (thin_cover,)
KINDS = {"thin-cover": ProblemKind(remark="thin")}
LIMITS = {
    "thin_spacing_mm": Limit(
        0.6,
        "rows of a fill further apart than this show cloth; of a satin one edge, 1.6 times as far",
        {"pile": 0.5, "fine": 0.5, "coarse": 0.75},
    ),
    "usual_spacing_mm": Limit(0.4, "what closes", {"fine": 0.33, "coarse": 0.5}),
}
