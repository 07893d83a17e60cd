"""When each stitch lands in the film, and what the machine is doing in every frame."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from render.errors import UsageError
from render.inspect.production import stitch_times_s
from render.materials.production import usual_effort

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Floats, SewPlan

Doing = Literal["start", "sew", "jump", "trim", "colour-change", "stop", "sewn", "clip", "release", "hold"]

START_S, SEWN_S = 0.4, 0.4  # bare cloth before the first stitch; a look at the work before it is clipped
CLIP_S, RELEASE_S = 1.2, 1.0
# A pause that is noticed but does not bore, seconds of film, and what share of it all pauses may take.
BEAT_S: dict[Doing, float] = {"jump": 0.1, "trim": 0.2, "colour-change": 0.5, "stop": 0.7}
BEATS_SHARE = 0.35
MOST_S = 6 * 3600.0


@dataclass(frozen=True, slots=True)
class Pace:
    """How fast the film runs: one of a whole length in seconds, a multiple of the machine's own
    speed, and stitches a second. `hold_s` is how long the finished piece is shown."""

    seconds: float | None = None
    speed: float | None = None
    stitches_per_s: float | None = None
    hold_s: float = 2.0


@dataclass(frozen=True, slots=True)
class Moment:
    """One frame: stitches sewn, what the machine is doing and since which share of it, in [0, 1),
    and the machine's own seconds since the first stitch."""

    stitches: int
    doing: Doing
    share: float
    machine_s: float


@dataclass(frozen=True, slots=True, eq=False)
class Timeline:
    """Stitches `first` to `last` (counted from 0, both included) in film and machine seconds.

    `begins_s`, `lands_s (n,)` are when in the film each stitch begins to be sewn and lands; what comes
    before it, `before`, fills the time from the stitch before. `machine_s (n,)` is when it lands at
    the machine. `after` are the stages behind the last stitch with their lengths.
    """

    first: int
    last: int
    begins_s: Floats
    lands_s: Floats
    machine_s: Floats
    before: tuple[Doing, ...]
    after: tuple[tuple[Doing, float], ...]
    fps: float

    @property
    def frames(self) -> int:
        whole_s = float(self.lands_s[-1]) + sum(length_s for _, length_s in self.after)
        return max(round(whole_s * self.fps), 2)

    def moment(self, frame: int) -> Moment:
        """What frame number `frame` shows; the last one is the finished piece."""
        time_s = frame / self.fps
        landed = int(np.searchsorted(self.lands_s, time_s, "right"))
        machine_s = float(self.machine_s[landed - 1]) if landed else 0.0
        stitches = self.first + landed
        if frame >= self.frames - 1:
            return Moment(self.last + 1, self.after[-1][0], 1.0, float(self.machine_s[-1]))
        if landed == len(self.lands_s):
            left = time_s - float(self.lands_s[-1])
            for doing, length_s in self.after[:-1]:
                if left < length_s:
                    return Moment(stitches, doing, left / length_s, machine_s)
                left -= length_s
            return Moment(stitches, self.after[-1][0], 0.0, machine_s)
        since = float(self.lands_s[landed - 1]) if landed else 0.0
        begins = float(self.begins_s[landed])
        if time_s < begins:
            share = (time_s - since) / (begins - since)
            return Moment(stitches, self.before[landed] if landed else "start", share, machine_s)
        share = (time_s - begins) / max(float(self.lands_s[landed]) - begins, 1e-9)
        return Moment(stitches, "sew", share, machine_s)


def timeline(
    plan: SewPlan,
    pace: Pace,
    *,
    speed_spm: float,
    fps: float,
    first: int,
    last: int,
    after: tuple[Doing, ...],
) -> Timeline:
    """Lay out stitches `first` to `last`, with the stages that follow them, on a machine of this speed.

    Raises UsageError for a length that leaves no time to sew, or a film longer than six hours.
    """
    some = slice(first, last + 1)
    before = _before(plan)[some]
    length_mm = np.hypot(*(plan.end_mm[some] - plan.start_mm[some]).T)
    sewing_s = stitch_times_s(length_mm, speed_spm, usual_effort())
    beats_s = _beats_s(plan)[some]
    machine_s = np.cumsum(sewing_s + beats_s)
    lengths = {"sewn": SEWN_S, "clip": CLIP_S, "release": RELEASE_S, "hold": pace.hold_s}
    behind = tuple((doing, lengths[doing]) for doing in after)
    if pace.speed is not None:
        sew, beat = sewing_s / pace.speed, beats_s / pace.speed
    else:
        beat = np.array([BEAT_S.get(doing, 0.0) for doing in before])
        if pace.stitches_per_s is not None:
            sew = np.full(len(before), 1.0 / pace.stitches_per_s)
        else:
            whole = 20.0 if pace.seconds is None else pace.seconds
            room = whole - START_S - sum(s for _, s in behind)
            if room < 0.5:
                raise UsageError(
                    f"a film of {whole:g} s leaves no time to sew: give --seconds {whole - room + 1:.0f} "
                    "or more, or a shorter --hold"
                )
            beat *= min(1.0, BEATS_SHARE * room / max(float(beat.sum()), 1e-9))
            sew = sewing_s * ((room - float(beat.sum())) / float(sewing_s.sum()))
    lands = START_S + np.cumsum(sew + beat)
    whole_s = float(lands[-1]) + sum(length_s for _, length_s in behind)
    if whole_s > MOST_S:
        raise UsageError(
            f"the film would take {whole_s / 3600:.3g} hours: give a higher --speed, its --seconds, or a "
            "shorter --hold"
        )
    return Timeline(first, last, lands - sew, lands, machine_s, tuple(before), behind, fps)


def _before(plan: SewPlan) -> list[Doing]:
    """What comes before each stitch, the weightiest where several do."""
    before: list[Doing] = ["sew"] * len(plan.start_mm)
    for travel in plan.travels:
        if 0 <= travel.after_stitch < len(before) - 1:
            before[travel.after_stitch + 1] = "trim" if travel.cut == "yes" else "jump"
    for block in plan.blocks:
        if block.ends_with != "end" and block.last + 1 < len(before):
            before[block.last + 1] = "stop" if block.ends_with == "stop" else "colour-change"
    return before


def _beats_s(plan: SewPlan) -> NDArray[np.float64]:
    """Seconds that the machine stands before each stitch: to cut, to change thread, for a hand.

    Of the cuts at changes and stops a plan knows only how many the machine makes: each takes its share.
    """
    effort, beats = usual_effort(), np.zeros(len(plan.start_mm) + 1)
    halts = {b.last + 1: b.ends_with for b in plan.blocks if b.ends_with != "end"}
    cuts = [t.after_stitch + 1 for t in plan.travels if t.cut == "yes" and t.after_stitch + 1 not in halts]
    if plan.trims:
        beats[cuts] += effort.trim_s
    for at, ends_with in halts.items():
        beats[at] += effort.colour_change_s if ends_with == "colour-change" else effort.stop_s
        beats[at] += effort.trim_s * max(plan.trims - len(cuts), 0) / len(halts)
    return beats[:-1]
