"""Sewing: parts in order become needle commands, with ties, trims and changes of thread.

Points are rounded to 0.1 mm, the unit of stitch files, as they are sewn, so that what is
said of them is what the file holds.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from digitize.parts import Part, Points
from digitize.running import STITCH_MM
from digitize.shapes import resample

TIE_MM = 0.8
JOIN_MM = 0.6  # shorter ways between objects are stitched, longer ones cut (common practice, no source)
UNIT_MM = 0.1

STITCH, JUMP, TRIM, STOP, COLOUR_CHANGE = range(5)


@dataclass(frozen=True, slots=True)
class Thread:
    """A needle thread as the shop's list has it."""

    label: str
    colour: str
    kind: str = "rayon"
    size: str = "40 wt"


@dataclass(frozen=True, slots=True, eq=False)
class Meant:
    """A part as sewn: stitches `first` to `last` of the design, counted from 0."""

    name: str
    part: Part
    block: int
    first: int
    last: int


@dataclass(frozen=True, slots=True)
class Way:
    """A move without stitches inside a colour block, on to the object `name`."""

    name: str
    after_stitch: int
    from_mm: tuple[float, float]
    to_mm: tuple[float, float]
    cut: bool

    @property
    def length_mm(self) -> float:
        """Straight from end to end."""
        return float(np.hypot(self.to_mm[0] - self.from_mm[0], self.to_mm[1] - self.from_mm[1]))


@dataclass(slots=True)
class Sewing:
    """A design under the needle: records so far, and the account of what was meant.

    Stitches are counted as thread on top between consecutive needle points of one run. A stop
    starts a block as a change of thread does: `threads` is one a change, `block_threads` one a block.
    """

    records: list[tuple[int, int, int]] = field(default_factory=list)
    threads: list[Thread] = field(default_factory=list)
    block_threads: list[Thread] = field(default_factory=list)
    meant: list[Meant] = field(default_factory=list)
    ways: list[Way] = field(default_factory=list)
    stitches: int = 0
    block: int = 0
    run: list[tuple[int, int]] = field(default_factory=list)

    def thread(self, thread: Thread) -> None:
        """Sew on with another thread."""
        if self.threads:
            self._end_run(COLOUR_CHANGE)
            self.block += 1
        self.threads.append(thread)
        self.block_threads.append(thread)

    def stop(self) -> None:
        """Halt the machine, with the same thread."""
        self._end_run(STOP)
        self.block += 1
        self.block_threads.append(self.threads[-1])

    def sew(self, name: str, parts: Sequence[Part], *, cut: bool = True) -> None:
        """Sew the parts without a break between them; before them, cut (or drag) the thread
        when the way is longer than `JOIN_MM`."""
        for part in parts:
            start = part.points_mm[0]
            if self.run and (part is not parts[0] or self._way_mm(start) <= JOIN_MM):
                self._stitch(resample([np.multiply(self.run[-1], UNIT_MM), start], STITCH_MM)[1:])
            else:
                if self.run:
                    leaves = self._end_run(TRIM if cut else None)
                    to = (round(float(start[0]), 1), round(float(start[1]), 1))
                    self.ways.append(Way(name, self.stitches - 1, leaves, to, cut))
                self._begin_run(part)
            first = self.stitches
            self._stitch(part.points_mm[1:])
            if self.stitches > first:
                self.meant.append(Meant(name, part, self.block, first, self.stitches - 1))

    def finish(self) -> None:
        """Tie off the last thread."""
        self._end_run(None)

    def needle_points_mm(self) -> Points:
        """All needle points (N, 2)."""
        return np.array([(x, y) for x, y, command in self.records if command == STITCH]) * UNIT_MM

    def _way_mm(self, point: Points) -> float:
        return float(np.hypot(*(np.multiply(self.run[-1], UNIT_MM) - point)))

    def _begin_run(self, part: Part) -> None:
        x, y = _units(part.points_mm[0])
        self.records += [(x, y, JUMP), (x, y, STITCH)]
        self.run = [(x, y)]
        self._tie(part.points_mm[0], part.points_mm[1:])

    def _end_run(self, command: int | None) -> tuple[float, float]:
        points = np.multiply(self.run, UNIT_MM)
        self._tie(points[-1], points[-2::-1])
        if command is not None:
            self.records.append((*self.run[-1], command))
        self.run = []
        return float(points[-1, 0].round(1)), float(points[-1, 1].round(1))

    def _tie(self, point: Points, ahead: Points) -> None:
        """Small stitches to and fro towards the first point that is far enough."""
        far = ahead[np.hypot(*(ahead - point).T) >= TIE_MM]
        towards = (far[0] if len(far) else ahead[-1]) - point
        step = towards / np.hypot(*towards) * TIE_MM
        first = self.stitches
        tie = np.array([point, point + step, point])
        self._stitch(tie[1:])
        meant = Part("tie", tie, serves="running")
        self.meant.append(Meant("tie", meant, self.block, first, self.stitches - 1))

    def _stitch(self, points: Points) -> None:
        for point in points:
            unit = _units(point)
            if unit != self.run[-1]:
                self.records.append((*unit, STITCH))
                self.run.append(unit)
                self.stitches += 1


def _units(point: Points) -> tuple[int, int]:
    return round(float(point[0]) / UNIT_MM), round(float(point[1]) / UNIT_MM)
