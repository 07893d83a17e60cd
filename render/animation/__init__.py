"""A film of a design being sewn: what is to be shown, and how it is framed and paced."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from render.animation.overlay import caption_band_px
from render.animation.timeline import Doing, Pace, Timeline, timeline
from render.compose import MOST_PIXELS
from render.errors import UsageError
from render.model import Window
from render.preview import SewnDesign, sew_design

if TYPE_CHECKING:
    from render.model import Design, Job

__all__ = ["SIZES", "Film", "FilmOrder", "Pace", "film_of"]

SIZES = {"phone": (1080, 1920), "square": (1080, 1080), "wide": (1920, 1080)}
MARGIN_MM = 6.0
LEAST_SIDE_PX = 16


@dataclass(frozen=True, slots=True)
class FilmOrder:
    """What is asked for: pixels across and down, frames a second, pace, stitches `first` to `last`
    counted from 1 (None: all), and what is laid over the frames."""

    size_px: tuple[int, int] = SIZES["square"]
    fps: float = 30.0
    pace: Pace = field(default_factory=Pace)
    first: int | None = None
    last: int | None = None
    needle: bool = False
    caption: bool = False
    rotate_deg: float = 0.0
    mirror: bool = False
    margin_mm: float = MARGIN_MM


@dataclass(frozen=True, slots=True, eq=False)
class Film:
    """A design ready to be filmed: sewn, framed and timed. `job` is the finished piece's."""

    name: str
    ready: SewnDesign
    job: Job
    order: FilmOrder
    window: Window
    timeline: Timeline

    @property
    def clipped(self) -> bool:
        """Whether loose thread is clipped at the end."""
        return any(doing == "clip" for doing, _ in self.timeline.after)


def film_of(design: Design, job: Job, order: FilmOrder) -> Film:
    """Sew the design and lay out its film. Raises InputError or UsageError."""
    ready = sew_design(design, job, rotate_deg=order.rotate_deg, mirror=order.mirror, keep_rests=True)
    return film_of_sewn(design.name, ready, job, order)


def film_of_sewn(name: str, ready: SewnDesign, job: Job, order: FilmOrder) -> Film:
    """Lay out the film of a design that is sewn, with its states of rest. Raises UsageError."""
    plan = ready.sewn.plan
    total = len(plan.start_mm)
    first = (1 if order.first is None else order.first) - 1
    last = (total if order.last is None else order.last) - 1
    if not 0 <= first <= last < total:
        raise UsageError(
            f"stitches {first + 1} to {last + 1} are not in a design of {total}: "
            f"give --from and --to between 1 and {total}, in this order"
        )
    cap = ready.holding is not None and ready.holding.hoop.shape == "cap"
    after: list[Doing] = ["hold"]
    if last == total - 1:
        if ready.holding is not None and ready.holding.taken_out:
            after.insert(0, "release")
        if job.finish == "cleaned" and plan.travels:
            after[:0] = ["sewn", "clip"]
    times = timeline(
        plan,
        order.pace,
        speed_spm=job.machine.cap_speed_spm if cap else job.machine.speed_spm,
        fps=order.fps,
        first=first,
        last=last,
        after=tuple(after),
    )
    return Film(name, ready, job, order, window_of(plan.box_mm, order), times)


def window_of(box_mm: tuple[float, float, float, float], order: FilmOrder) -> Window:
    """The box with its margin as large as it fits, clear of the caption; cloth fills the frame.

    Raises UsageError.
    """
    cols, rows = order.size_px
    check_size(cols, rows, caption=order.caption)
    left, top, right, bottom = box_mm
    wide, high = (side + 2 * order.margin_mm for side in (right - left, bottom - top))
    band = caption_band_px(order.size_px) if order.caption else 0
    px_per_mm = min(cols / max(wide, 1.0), (rows - band) / max(high, 1.0))
    # Where the frame is higher than it need be the design stays in its middle.
    room = (rows - high * px_per_mm) / 2
    centre = ((left + right) / 2, (top + bottom) / 2 + max(band - room, 0.0) / px_per_mm)
    return Window(centre, px_per_mm, rows, cols)


def check_size(cols: int, rows: int, *, caption: bool) -> None:
    """Raise UsageError for a size in pixels that no film can have, or none with a caption."""
    if min(cols, rows) < LEAST_SIDE_PX or cols * rows > MOST_PIXELS // 10:
        raise UsageError(f"a film of {cols} x {rows} pixels cannot be made: give --size 16x16 to 5000x4000")
    if caption and caption_band_px((cols, rows)) > rows / 2:
        raise UsageError(
            f"a film of {cols} x {rows} pixels has no room for a caption: give a larger --size, or leave "
            "it out"
        )


def as_sewn(job: Job) -> Job:
    """The job before anything is clipped."""
    return replace(job, finish="off-machine")
