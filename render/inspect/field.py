"""What fits: the hoop, the front of a cap, and its middle seam.

`hoop` and `cap-field`: how far the design reaches beyond, mm. `seam`: how far an object runs along
a cap's middle seam, mm.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.inspect.places import box_of, named, problem_of
from render.model import HIDDEN_KINDS, Limit, Problem, ProblemKind

if TYPE_CHECKING:
    from collections.abc import Iterator

    from render.inspect.piece import Piece
    from render.model import Hoop

ON_SEAM_SHARE = 0.8  # of an object's needle points that must lie so near the seam


def beyond_the_hoop(piece: Piece) -> Iterator[Problem]:
    """A design larger than the hoop it is to be sewn in, or than the machine's field.

    The hoop counts where the job names one; else the smallest that holds the design is meant.
    """
    left, top, right, bottom = piece.plan.box_mm
    over = [(_over_field(right - left, bottom - top, piece.job.machine.field_mm), "the machine's field")]
    if piece.holding is not None and (piece.job.hoop is not None or piece.cap):
        hoop = piece.holding.hoop
        what = f"the inside of the hoop, {hoop.title}"
        over.insert(0, (_over_hoop(piece, hoop) + 2 * piece.limits[0]["hoop_room_mm"], what))
    for size, what in over:
        if size <= 0.005:
            continue
        cause = (
            f"the design of {right - left:.0f} x {bottom - top:.0f} mm is {size:.1f} mm larger than "
            f"{what}: the needle would strike the frame"
        )
        yield _of_all(piece, "hoop", size, cause, "take a larger hoop, or have the design made smaller")
        return


def _over_field(wide: float, high: float, field_mm: tuple[float, float]) -> float:
    """How much larger a design is than the machine's field, in which it may be turned."""
    if (wide > high) != (field_mm[0] > field_mm[1]):
        wide, high = high, wide
    return max(wide - field_mm[0], high - field_mm[1])


def _over_hoop(piece: Piece, hoop: Hoop) -> float:
    """How much larger a design is than the hoop around its middle; of a round one, along its diameter.

    A cap frame counts in its width: what is too high for a cap is told as `cap-field`.
    """
    left, top, right, bottom = piece.plan.box_mm
    wide, high = right - left, bottom - top
    if hoop.shape == "ellipse":
        points = np.concatenate([piece.plan.start_mm, piece.plan.end_mm, piece.plan.sequins_mm])
        away = 2 * np.abs(points - ((left + right) / 2, (top + bottom) / 2))
        reach = float(np.hypot(*(away / (hoop.width_mm, hoop.height_mm)).T).max())
        return (reach - 1) * min(hoop.width_mm, hoop.height_mm)
    if hoop.shape == "cap":
        return wide - hoop.width_mm
    return max(wide - hoop.width_mm, high - hoop.height_mm)


def cap_field(piece: Piece) -> Iterator[Problem]:
    """A design higher than a cap's front allows above the brim."""
    if not piece.cap:
        return
    _, top, _, bottom = piece.plan.box_mm
    limits = piece.limits[0]
    room = limits["cap_height_mm"] - limits["cap_brim_mm"]
    over = bottom - top - room
    if over <= 0.005:
        return
    cause = (
        f"{bottom - top:.0f} mm high, it is {over:.1f} mm more than a cap's front has between "
        f"{limits['cap_brim_mm']:.0f} mm above the brim and the crown"
    )
    yield _of_all(piece, "cap-field", over, cause, f"have it made {room:.0f} mm high at most")


def _of_all(piece: Piece, kind: str, size_mm: float, cause: str, remedy: str) -> Problem:
    """A fault of the whole design."""
    last = len(piece.plan.start_mm) - 1
    where, box = box_of(piece.sewn, 0, last)
    return Problem(
        kind=kind,
        severity="fix",
        where_mm=where,
        box_mm=box,
        size_mm=size_mm,
        objects=(),
        stitches=(0, last),
        colour_block=0,
        cause=cause,
        remedy=remedy,
    )


def on_the_seam(piece: Piece) -> Iterator[Problem]:
    """Columns and runs along the middle seam of a cap, where the needle glances off the ridge."""
    if not piece.cap:
        return
    plan, limits = piece.plan, piece.limits[0]
    left, _, right, _ = plan.box_mm
    # Files do not say where the seam is; a design is placed with the middle of its box on it.
    seam = (left + right) / 2
    for part in plan.objects:
        if part.kind in ("fill", *HIDDEN_KINDS):
            continue
        points = np.concatenate([plan.start_mm[part.first : part.last + 1], plan.end_mm[part.last :][:1]])
        on = points[np.abs(points[:, 0] - seam) <= limits["seam_mm"]]
        if len(on) < ON_SEAM_SHARE * len(points) or np.ptp(on[:, 1]) < limits["seam_stitch_mm"]:
            continue
        length = float(np.ptp(on[:, 1]))
        yield problem_of(
            piece,
            "seam",
            [part],
            severity="check",
            size_mm=length,
            cause=(
                f"{named(part)} runs along the cap's middle seam for {length:.0f} mm: the needle glances "
                "off the ridge and breaks"
            ),
            remedy="sew slower there, with a strong needle, or move it off the seam",
        )


CHECKS = (beyond_the_hoop, cap_field, on_the_seam)
KINDS = {
    "hoop": ProblemKind(),
    "cap-field": ProblemKind(),
    "seam": ProblemKind(remark="seam"),
}
LIMITS = {
    "hoop_room_mm": Limit(0.0, "between the design and the inside of the hoop"),
    "cap_height_mm": Limit(60.0, "above the brim that can be sewn"),
    "cap_brim_mm": Limit(10.0, "from the brim to the lowest stitch"),
    "seam_mm": Limit(2.0, "to each side of a cap's middle seam, stitching meets its ridge"),
    "seam_stitch_mm": Limit(8.0, "columns and runs along the seam, from which that matters"),
}
