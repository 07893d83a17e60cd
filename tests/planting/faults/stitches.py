"""Single stitches, ties, jumps and cuts."""

from __future__ import annotations

import numpy as np

from designs.club import GOLD, NAVY, RED, Step
from digitize.parts import Part
from planting import twins
from planting.faults import CENTRE, Faults
from planting.scenes import Plant, Scene, column, company, run


def short_stitch(rng: np.random.Generator, size: float) -> Scene:
    """A run of short stitches."""
    angle = rng.uniform(0, np.pi)
    way = np.arange(rng.integers(15, 40))[:, None] * size * np.array([[np.cos(angle), np.sin(angle)]])
    return Scene(
        [*company(rng), run("short", NAVY, way + CENTRE)],
        Plant("short-stitch", ("short",), size, ("crowding", "repeated-hole"), twins.shortest),
    )


def long_stitch(rng: np.random.Generator, size: float) -> Scene:
    """A few long stitches in a line, between short ones."""
    angle, count = rng.uniform(-0.6, 0.6), rng.integers(2, 5)
    steps = np.concatenate([[0.0, 2.0, 2.0], np.full(count, size), [2.0, 2.0]])
    points = CENTRE + np.cumsum(steps)[:, None] * np.array([np.cos(angle), np.sin(angle)])
    return Scene(
        [*company(rng), run("long", NAVY, points)], Plant("long-stitch", ("long",), size, (), twins.longest)
    )


def uncut_jump(rng: np.random.Generator, size: float) -> Scene:
    """Two columns with the thread left on between them."""
    first = column("from", RED, CENTRE, 8.0, 3.0)
    start = first.parts[-1].points_mm[-1]
    second = column("to", RED, (0.0, 0.0), 8.0, 3.0, cut=False)
    shift = start + (size, 0.0) - second.parts[0].points_mm[0]
    parts = [Part(p.kind, p.points_mm + shift, serves=p.serves) for p in second.parts]
    return Scene(
        [*company(rng), first, Step("to", RED, parts, cut=False)],
        Plant("uncut-jump", ("from", "to"), size, ("crowding", "gap", "registration"), twins.jump),
    )


def needless_trim(rng: np.random.Generator, size: float) -> Scene:
    """Two runs with a cut between ends that nearly meet; nearer ends would be sewn on."""
    size = max(size, 0.8)
    way = np.arange(8)[:, None] * np.array([[2.0, 0.0]])
    first = run("first", NAVY, way + CENTRE)
    second = run("second", NAVY, way + CENTRE + (14.0 + size, 0.0))
    return Scene(
        [*company(rng), first, second], Plant("needless-trim", ("first", "second"), size, (), twins.jump)
    )


def no_tie(rng: np.random.Generator, size: float) -> Scene:
    """A column whose thread begins without a tie."""
    loose = column("loose", GOLD, CENTRE, rng.uniform(8, 16), rng.uniform(3.5, 5))
    return Scene([*company(rng), loose], Plant("no-tie", ("loose",)), untied="loose")


FAULTS: Faults = {
    "short-stitch": (short_stitch, 0.5, True),
    "long-stitch": (long_stitch, 7.0, False),
    "uncut-jump": (uncut_jump, 3.0, False),
    "needless-trim": (needless_trim, 2.0, True),
    "no-tie": (no_tie, None, False),
}
