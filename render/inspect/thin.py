"""Rows so far apart that what lies below shows. `thin-cover`: their spacing, mm."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.inspect.places import box_of, named
from render.model import Cover, Problem

if TYPE_CHECKING:
    from collections.abc import Iterator

    from render.inspect.piece import Piece
    from render.model import SewnObject

SATIN_LINES = 2  # lines of satin to one spacing of its edge
LEAST_STITCHES = 12
OPEN_MM = 2.0  # rows further apart are meant to be seen as rows
SEEN_SHARE = 0.3  # of an object's thread that must lie on top


def thin_cover(piece: Piece) -> Iterator[Problem]:
    """Fills and satins that do not close; open work that the job declares is left alone."""
    plan = piece.plan
    for part in plan.objects:
        limits = piece.limits[part.colour_block]
        treatment = piece.job.blocks.get(part.colour_block)
        if treatment is not None and treatment.kind == "open":
            continue
        if part.kind not in ("fill", "satin", "split-satin") or part.last - part.first + 1 < LEAST_STITCHES:
            continue
        lines = 1 if part.kind == "fill" else SATIN_LINES
        limit = limits.thin_spacing_mm * lines
        if not part.row_spacing_mm > limit + 0.005 or _seen(piece, part) < SEEN_SHARE:
            continue
        cloth = _shows(piece, part)
        where, box = box_of(piece.sewn, part.first, part.last)
        what = "cloth" if cloth > 0.5 else "what is sewn below"
        open_work = part.row_spacing_mm > OPEN_MM * lines
        yield Problem(
            "thin-cover",
            "note" if open_work else "fix",
            where,
            box,
            part.row_spacing_mm,
            (part.index,),
            (part.first, part.last),
            part.colour_block,
            f"{named(part)} has its rows {part.row_spacing_mm:.2f} mm apart: {what} shows between them",
            f"set them {limits.usual_spacing_mm:.2f} mm apart, or declare the block open if it is meant so",
        )


def _seen(piece: Piece, part: SewnObject) -> float:
    """Share of an object's stitches that lie on top somewhere in the finished piece."""
    own = np.unique(piece.sewn_cover.stitch[_window(piece, part)])
    count = ((own >= part.first) & (own <= part.last)).sum()
    return float(count / (part.last - part.first + 1))


def _shows(piece: Piece, part: SewnObject) -> float:
    """Of what shows in an object's box beside its own thread, the share that is cloth."""
    stitch = piece.sewn_cover.stitch[_window(piece, part)]
    other = stitch[(stitch < part.first) & (stitch >= 0) | (stitch == Cover.CLOTH)]
    return float((other == Cover.CLOTH).mean()) if len(other) else 0.0


def _window(piece: Piece, part: SewnObject) -> tuple[slice, slice]:
    """The pixels of an object's box in the cover."""
    window = piece.sewn_cover.window
    _, (left, top, right, bottom) = box_of(piece.sewn, part.first, part.last)
    x, y = window.centre_mm
    cols = [int((at - x) * window.px_per_mm + window.cols / 2) for at in (left, right)]
    rows = [int((at - y) * window.px_per_mm + window.rows / 2) for at in (top, bottom)]
    return slice(max(rows[0], 0), rows[1] + 1), slice(max(cols[0], 0), cols[1] + 1)
