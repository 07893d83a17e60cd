"""What fits: the hoop, the front of a cap, and its middle seam.

`hoop` and `cap-field`: how far the design reaches beyond, mm. `seam`: how far an object runs along
a cap's middle seam, mm.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.inspect.places import box_of, named
from render.model import Problem

if TYPE_CHECKING:
    from collections.abc import Iterator

    from render.inspect.piece import Piece

ON_SEAM_SHARE = 0.8  # of an object's needle points that must lie so near the seam


def beyond_the_hoop(piece: Piece) -> Iterator[Problem]:
    """A design larger than the hoop asked for, or than the machine's field."""
    left, top, right, bottom = piece.plan.box_mm
    wide, high = right - left, bottom - top
    inside = [("the machine's field", *piece.job.machine.field_mm)]
    if piece.holding is not None and piece.job.hoop is not None and not piece.cap:
        hoop = piece.holding.hoop
        inside.insert(0, (f"the hoop, {hoop.title},", hoop.width_mm, hoop.height_mm))
    room = 2 * piece.limits[0].hoop_room_mm
    for what, width, height in inside:
        # A design may be turned in the machine's field, not in the hoop it is placed in.
        if what == "the machine's field" and (wide > high) != (width > height):
            width, height = height, width
        over = max(wide + room - width, high + room - height)
        if over <= 0.005:
            continue
        where, box = box_of(piece.sewn, 0, len(piece.plan.start_mm) - 1)
        yield Problem(
            "hoop",
            "fix",
            where,
            box,
            over,
            (),
            (0, len(piece.plan.start_mm) - 1),
            0,
            f"the design of {wide:.0f} x {high:.0f} mm is {over:.1f} mm larger than {what} of {width:.0f} x "
            f"{height:.0f} mm: the needle would strike the frame",
            "take a larger hoop, or have the design made smaller",
        )
        return


def cap_field(piece: Piece) -> Iterator[Problem]:
    """A design higher than a cap's front allows above the brim."""
    if not piece.cap:
        return
    _, top, _, bottom = piece.plan.box_mm
    limits = piece.limits[0]
    room = limits.cap_height_mm - limits.cap_brim_mm
    over = bottom - top - room
    if over <= 0.005:
        return
    where, box = box_of(piece.sewn, 0, len(piece.plan.start_mm) - 1)
    yield Problem(
        "cap-field",
        "fix",
        where,
        box,
        over,
        (),
        (0, len(piece.plan.start_mm) - 1),
        0,
        f"{bottom - top:.0f} mm high, it is {over:.1f} mm more than a cap's front has between "
        f"{limits.cap_brim_mm:.0f} mm above the brim and the crown",
        f"have it made {room:.0f} mm high at most",
    )


def on_the_seam(piece: Piece) -> Iterator[Problem]:
    """Columns and runs along the middle seam of a cap, where the needle glances off the ridge."""
    if not piece.cap:
        return
    plan, limits = piece.plan, piece.limits[0]
    left, _, right, _ = plan.box_mm
    # A design is placed with its middle on the seam.
    seam = (left + right) / 2
    for part in plan.objects:
        if part.kind in ("fill", "tie", "underlay"):
            continue
        points = np.concatenate([plan.start_mm[part.first : part.last + 1], plan.end_mm[part.last :][:1]])
        on = points[np.abs(points[:, 0] - seam) <= limits.seam_mm]
        if len(on) < ON_SEAM_SHARE * len(points) or np.ptp(on[:, 1]) < limits.seam_stitch_mm:
            continue
        length = float(np.ptp(on[:, 1]))
        where, box = box_of(piece.sewn, part.first, part.last)
        yield Problem(
            "seam",
            "check",
            where,
            box,
            length,
            (part.index,),
            (part.first, part.last),
            part.colour_block,
            f"{named(part)} runs along the cap's middle seam for {length:.0f} mm: the needle glances off the "
            "ridge and breaks",
            "sew slower there, with a strong needle, or move it off the seam",
        )
