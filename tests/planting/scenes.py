"""Sensible designs made from a random stream, and what is planted in them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from designs.club import CREAM, GOLD, NAVY, RED, Step, sew
from digitize.fill import fill
from digitize.lettering import letters_on_line
from digitize.parts import Part, moved
from digitize.satin import satin_path
from digitize.sewing import COLOUR_CHANGE, JUMP, STITCH, STOP, TRIM, UNIT_MM, Sewing, Thread
from digitize.shapes import circle
from render.inspect import Piece
from render.model import Command, Design

COMMANDS = {
    STITCH: Command.STITCH,
    JUMP: Command.JUMP,
    TRIM: Command.TRIM,
    STOP: Command.STOP,
    COLOUR_CHANGE: Command.COLOUR_CHANGE,
}
APART_MM = 8.0  # between what is sewn side by side
Measure = Callable[[Piece, NDArray[np.int64]], float]
WORDS = ("OAR", "OTTER", "CLUB", "ROW", "BOAT", "CREW")


@dataclass(frozen=True)
class Plant:
    """A fault: kind, the names of the steps it is in, and its size where the maker knows it.

    `along` are kinds that come with it and are neither scored nor held against the inspection;
    `measure` is the twin that measures the size on the sewn geometry, where one does.
    """

    kind: str
    steps: tuple[str, ...]
    size_mm: float | None = None
    along: tuple[str, ...] = ()
    measure: Measure | None = None


@dataclass(frozen=True)
class Scene:
    """Steps in sewing order, what is planted among them, and the job's own words."""

    steps: list[Step | str]
    plant: Plant | None = None
    job: dict[str, Any] = field(default_factory=dict)
    blocks: dict[int, Any] = field(default_factory=dict)
    untied: str = ""  # a step whose ties at the start are left out
    moved: tuple[str, tuple[float, float]] = ("", (0.0, 0.0))  # a step that comes to lie elsewhere, mm


def design_of(scene: Scene) -> tuple[Design, Sewing]:
    """The scene under the needle, and the file it makes; cuts are explicit."""
    sewing = _sewn(scene.steps)
    records = sewing.records
    if scene.untied:
        first = min(m.first for m in sewing.meant if m.name == scene.untied)
        records = _without_tie(records, first)
    return file_of(sewing, records), sewing


def file_of(sewing: Sewing, records: list[tuple[int, int, int]] | None = None) -> Design:
    """What a stitch file with codes for cuts would hold of a sewing, or of other records of it."""
    records = sewing.records if records is None else records
    xy = np.array([(x, y) for x, y, _ in records], float) * UNIT_MM
    command = np.array([COMMANDS[c] for _, _, c in records], np.uint8)
    colours = tuple(_srgb(thread) for thread in sewing.block_threads)
    return Design("planted", "twin", xy, command, colours, "explicit", False, "")


def _sewn(steps: Sequence[Step | str]) -> Sewing:
    """Steps and, between them, the word `stop`."""
    if "stop" not in steps:
        return sew([step for step in steps if isinstance(step, Step)])
    sewing = Sewing()
    for step in steps:
        if isinstance(step, str):
            sewing.stop()
            continue
        if sewing.threads and not sewing.run:  # at a stop, where the thread may be changed, too
            sewing.threads.append(step.thread)
            sewing.block_threads[-1] = step.thread
        elif not sewing.threads or sewing.threads[-1] != step.thread:
            sewing.thread(step.thread)
        sewing.sew(step.name, step.parts, cut=step.cut)
    sewing.finish()
    return sewing


def _without_tie(records: list[tuple[int, int, int]], first: int) -> list[tuple[int, int, int]]:
    """The records without the two tie stitches before stitch `first`.

    A needle point that follows another is a stitch; one after a move only pierces.
    """
    points = [record[2] == STITCH for record in records]
    stitches = [at for at in range(1, len(records)) if points[at] and points[at - 1]]
    at = stitches[first]
    return records[: at - 2] + records[at:]


def _srgb(thread: Thread) -> tuple[float, float, float]:
    red, green, blue = bytes.fromhex(thread.colour[1:])
    return red / 255, green / 255, blue / 255


def column(
    name: str,
    thread: Thread,
    centre: tuple[float, float],
    length_mm: float,
    width_mm: float,
    *,
    angle_deg: float = 90.0,
    cut: bool = True,
    **how: Any,
) -> Step:
    """A straight satin column; unturned it stands upright."""
    turn = np.deg2rad(angle_deg)
    half = length_mm / 2 * np.array([np.cos(turn), np.sin(turn)])
    path = np.array([np.array(centre) - half, np.array(centre) + half])
    return Step(name, thread, satin_path(path, width_mm, **how), cut)


def panel(
    name: str,
    thread: Thread,
    centre: tuple[float, float],
    size_mm: tuple[float, float],
    angle_deg: float,
    **how: Any,
) -> Step:
    """A filled rectangle."""
    x, y = centre
    a, b = size_mm[0] / 2, size_mm[1] / 2
    corners = [(x - a, y - b), (x + a, y - b), (x + a, y + b), (x - a, y + b), (x - a, y - b)]
    return Step(name, thread, fill([np.array(corners, float)], angle_deg=angle_deg, **how))


def ring(name: str, thread: Thread, centre: tuple[float, float], radius_mm: float, width_mm: float) -> Step:
    """A satin ring about its middle line."""
    return Step(name, thread, satin_path(circle(radius_mm, centre), width_mm))


def disc(name: str, thread: Thread, centre: tuple[float, float], radius_mm: float, angle_deg: float) -> Step:
    return Step(name, thread, fill([circle(radius_mm, centre)], angle_deg=angle_deg))


def word(name: str, thread: Thread, text: str, height_mm: float, left: tuple[float, float]) -> list[Step]:
    """A step a letter."""
    letters = letters_on_line(text, height_mm=height_mm, left_mm=left)
    return [
        Step(f"{name} {count} {char}", thread, parts)
        for count, (char, parts) in enumerate(zip(text, letters, strict=True))
    ]


def run(name: str, thread: Thread, points: Any, *, cut: bool = True) -> Step:
    """Needle points as given, in running stitches."""
    return Step(name, thread, [Part("running", np.asarray(points, float))], cut)


def company(rng: np.random.Generator, *, right: bool = False) -> list[Step]:
    """Something sensible beside the fault, left of the origin or right: what an inspection must not mind."""
    if right:
        steps = company(rng)
        left = min(part.points_mm[:, 0].min() for step in steps for part in step.parts)
        return [replace(step, parts=moved(step.parts, APART_MM - left, 0.0)) for step in steps]
    kind = rng.integers(4)
    x = -APART_MM
    if kind == 0:
        radius = rng.uniform(6, 11)
        centre = (x - radius - 2, 0.0)
        return [
            disc("badge", NAVY, centre, radius, rng.uniform(0, 180)),
            ring("badge ring", GOLD, centre, radius, rng.uniform(2.4, 3.2)),
        ]
    if kind == 1:
        text = WORDS[rng.integers(len(WORDS))]
        height = rng.uniform(7, 11)
        return word("word", CREAM, text, height, (x - 5 * height, height / 2))
    if kind == 2:
        steps = []
        for k in range(rng.integers(2, 5)):
            width = rng.uniform(2.0, 5.0)
            steps.append(
                column(f"bar {k}", RED, (x - 4 - 8 * k, 0.0), rng.uniform(10, 22), width, angle_deg=90.0)
            )
        return steps
    size = rng.uniform(9, 15), rng.uniform(9, 15)
    angle = rng.uniform(0, 180)
    centre = (x - size[0] / 2, 0.0)
    return [panel("field", NAVY, centre, size, angle), column("mark", CREAM, centre, 7.0, 2.5)]
