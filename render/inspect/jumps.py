"""Thread dragged from place to place, and cuts that cost more than they save.

`uncut-jump`: length of the dragged thread as sewn, mm. `needless-trim`: the distance whose thread
the cut saves, mm.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from render.inspect.places import box_of_points, named
from render.materials.production import usual_effort
from render.model import Limit, Problem, ProblemKind

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from render.inspect.piece import Piece
    from render.model import Floats, Travel

SEEN_MM, SEEN_SHARE = 1.0, 0.25  # a jump of which less is seen lies hidden under later stitches
SHORTEST_MM = 1.5  # shorter than this nobody sees a step between two objects
BESIDE_MM = 0.6  # how far to the sides one looks for what a jump crosses


def uncut_jumps(piece: Piece) -> Iterator[Problem]:
    """Every dragged thread that stays to be seen; those that some machines cut are told as one."""
    doubtful = []
    for travel, found in _dragged(piece):
        if travel.cut == "depends" and found.severity != "note":
            doubtful.append(found)
        else:
            yield found
    if doubtful:
        yield _depends(doubtful)


def clipped_mm(piece: Piece) -> tuple[float, ...]:
    """Lengths of the dragged threads that somebody has to clip, mm; what depends on the machine is."""
    return tuple(found.size_mm or 0.0 for _, found in _dragged(piece) if found.severity == "fix")


def _dragged(piece: Piece) -> Iterator[tuple[Travel, Problem]]:
    """Every thread that is not surely cut and long enough to be seen, as if it were dragged."""
    seen_px = _seen(piece)
    for travel in piece.plan.travels:
        if travel.cut == "yes" or not 0 <= travel.after_stitch < len(piece.plan.start_mm) - 1:
            continue
        found = _jump(piece, travel, int(seen_px[travel.after_stitch + 1]))
        if found is not None:
            yield travel, found


def _jump(piece: Piece, travel: Travel, seen_px: int) -> Problem | None:
    """One dragged thread; None where it is so short that nobody sees it."""
    plan, sewn, last = piece.plan, piece.sewn, travel.after_stitch
    ends = np.stack([sewn.end_mm[last], sewn.start_mm[last + 1]])
    length = float(np.hypot(*(ends[1] - ends[0])))
    limit = piece.limits[travel.colour_block]["jump_mm"]
    if length < SHORTEST_MM:
        return None
    width = 1.08 * piece.threads[travel.colour_block].diameter_mm
    whole_px = length * width * piece.sewn_cover.window.px_per_mm**2
    share = min(seen_px / whole_px, 1.0)
    hidden = share * length < SEEN_MM or share < SEEN_SHARE
    where, box = box_of_points(ends[:1] + (ends[1:] - ends[:1]) * np.linspace(0, 1, 9)[:, None])
    return Problem(
        kind="uncut-jump",
        severity="note" if hidden or length < limit else "fix",
        where_mm=where,
        box_mm=box,
        size_mm=length,
        objects=(int(plan.object_index[last]), int(plan.object_index[last + 1])),
        stitches=(last, last + 1),
        colour_block=travel.colour_block,
        cause=_cause(piece, ends, share, hidden=hidden),
        remedy=_remedy(length, limit, hidden=hidden),
    )


def _depends(found: list[Problem]) -> Problem:
    """Threads that are dragged or cut, depending on the machine, at the place of the longest."""
    worst = max(found, key=lambda one: one.size_mm or 0.0)
    boxes = np.array([one.box_mm for one in found])
    (left, top), (right, bottom) = boxes[:, :2].min(0).tolist(), boxes[:, 2:].max(0).tolist()
    count = "a thread is" if len(found) == 1 else f"{len(found)} threads are"
    return replace(
        worst,
        severity="check",
        box_mm=(left, top, right, bottom),
        objects=tuple(sorted({index for one in found for index in one.objects})),
        stitches=(min(one.stitches[0] for one in found), max(one.stitches[1] for one in found)),
        cause=f"{count} dragged unless your machine cuts by itself after jumps, up to {worst.size_mm:.1f} mm",
        remedy="name your machine's profile; if it does not cut, have a trim put at each of them",
    )


def _seen(piece: Piece) -> NDArray[np.int64]:
    """Pixels of dragged thread that lie on top, by the stitch that comes after it."""
    loose = piece.sewn_cover.loose
    return np.bincount(loose[loose >= 0], minlength=len(piece.plan.start_mm) + 1)


def _cause(piece: Piece, ends: Floats, share: float, *, hidden: bool) -> str:
    length = float(np.hypot(*(ends[1] - ends[0])))
    if hidden:
        return f"{length:.1f} mm of thread are dragged, but lie hidden under later stitches"
    crossed = _crossed(piece, ends)
    over = f" over {', '.join(crossed)}" if crossed else ""
    effort = usual_effort()
    easy = length >= effort.scissors_mm
    clip = (
        f"about {effort.clip_s:.0f} s to clip by hand"
        if easy
        else f"too short for scissors to get under easily, about {effort.short_clip_s:.0f} s to clip"
    )
    return f"{length:.1f} mm of thread are dragged{over}; {100 * share:.0f} % stay in sight, {clip}"


def _crossed(piece: Piece, ends: Floats) -> list[str]:
    """What lies under and beside a jump, two kinds of objects at most."""
    run = ends[1] - ends[0]
    length = float(np.hypot(*run))
    side = np.array([-run[1], run[0]]) / length * BESIDE_MM
    t = np.linspace(0.1, 0.9, max(3, int(length / 0.3)))[:, None]
    points = np.concatenate([ends[0] + run * t + side, ends[0] + run * t - side])
    there = piece.sewn_cover.stitch[piece.sewn_cover.window.pixels_at(points)]
    objects, count = np.unique(piece.plan.object_index[there[there >= 0]], return_counts=True)
    most = objects[np.argsort(-count, kind="stable")]
    return list(dict.fromkeys(named(piece.plan.objects[index]) for index in most))[:2]


def _remedy(length: float, limit: float, *, hidden: bool) -> str:
    if hidden:
        return "nothing to do, as long as the order of sewing stays"
    if length < limit:
        return "let one object end where the next begins, so that nothing is dragged"
    if length < usual_effort().scissors_mm:
        return "cut the thread here, or move end and start together: so short a one is hard to clip by hand"
    return "cut the thread here, or sew in an order that leaves no such way"


def needless_trims(piece: Piece) -> Iterator[Problem]:
    """Cuts between neighbouring ends of one colour."""
    plan, sewn = piece.plan, piece.sewn
    effort = usual_effort()
    for travel in plan.travels:
        last, following = travel.after_stitch, travel.after_stitch + 1
        if travel.cut != "yes" or last < 0 or following >= len(plan.start_mm):
            continue
        if plan.colour_block[last] != plan.colour_block[following]:
            continue
        ends = np.stack([sewn.end_mm[last], sewn.start_mm[following]])
        length = float(np.hypot(*(ends[1] - ends[0])))
        if length >= piece.limits[travel.colour_block]["trim_mm"]:
            continue
        where, box = box_of_points(ends)
        yield Problem(
            kind="needless-trim",
            severity="note",
            where_mm=where,
            box_mm=box,
            size_mm=length,
            objects=(int(plan.object_index[last]), int(plan.object_index[following])),
            stitches=(last, following),
            colour_block=travel.colour_block,
            cause=(
                f"the thread is cut to save {length:.1f} mm: a cut and its ties take about "
                f"{effort.trim_s:.0f} s"
            ),
            remedy="leave the cut out and sew on",
        )


CHECKS = (uncut_jumps, needless_trims)
KINDS = {
    "uncut-jump": ProblemKind(remark="threads_left", clipped=True),
    "needless-trim": ProblemKind(),
}
LIMITS = {
    "jump_mm": Limit(3.0, "dragged thread from this length on is to be cut"),
    "trim_mm": Limit(2.0, "a cut that saves less than this costs more than it saves"),
}
