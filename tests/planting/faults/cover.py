"""Cloth that shows, and thread that lies on thread or out of place."""

from __future__ import annotations

import numpy as np

from designs.club import GOLD, NAVY, RED, Step
from planting import twins
from planting.faults import CENTRE, Faults
from planting.scenes import Plant, Scene, column, company, disc, panel, ring, run


def gap(rng: np.random.Generator, size: float) -> Scene:
    """A disc and a ring that does not reach it, all round."""
    radius, width = rng.uniform(7, 11), rng.uniform(2.5, 3.5)
    steps = [
        disc("disc", NAVY, CENTRE, radius, rng.uniform(0, 180)),
        ring("rim", GOLD, CENTRE, radius + size + width / 2, width),
    ]
    return Scene(company(rng) + steps, Plant("gap", ("disc", "rim"), size, ("registration",), twins.gap))


def thin_cover(rng: np.random.Generator, size: float) -> Scene:
    """A fill whose rows are far apart."""
    wide, high = rng.uniform(10, 16), rng.uniform(10, 16)
    thin = panel("thin", RED, CENTRE, (wide, high), rng.uniform(0, 180), row_spacing_mm=size)
    return Scene([*company(rng), thin], Plant("thin-cover", ("thin",), size, ("gap",)))


def crowding(rng: np.random.Generator, size: float) -> Scene:
    """A square satin sewn six times over."""
    blob = [column(f"blob {k}", NAVY, CENTRE, size, size) for k in range(6)]
    steps = [Step(f"blob {k}", NAVY, blob[k].parts) for k in range(6)]
    names = tuple(step.name for step in steps)
    along = ("repeated-hole", "needless-trim", "short-stitch", "narrow-column", "registration")
    return Scene([*company(rng), *steps], Plant("crowding", names, size, along, twins.crowded))


def repeated_hole(rng: np.random.Generator, size: float) -> Scene:
    """A star: all stitches meet in one needle hole."""
    count = 24
    points = [np.array(CENTRE)]
    for angle in np.linspace(0, 2 * np.pi, count, endpoint=False):
        points += [CENTRE + 4.0 * np.array([np.cos(angle), np.sin(angle)]), np.array(CENTRE)]
    # Its tips are so far apart that cloth does show between them.
    along = ("crowding", "narrow-column", "no-underlay", "small-lettering", "thin-cover")
    return Scene([*company(rng), run("star", RED, points)], Plant("repeated-hole", ("star",), None, along))


def registration(rng: np.random.Generator, size: float) -> Scene:
    """Two fields side by side, of which the second comes to lie so far from where it was meant."""
    wide, high = rng.uniform(9, 13), rng.uniform(10, 14)
    first = panel("stays", NAVY, CENTRE, (wide, high), rng.uniform(0, 180))
    second = panel("goes", RED, (CENTRE[0] + wide - 0.5, 0.0), (wide, high), rng.uniform(0, 180))
    angle = rng.uniform(0, 2 * np.pi)
    way = (size * float(np.cos(angle)), size * float(np.sin(angle)))
    plant = Plant("registration", ("stays", "goes"), size, ("gap", "one-way-pull"), twins.shift)
    return Scene([*company(rng), first, second], plant, moved=("goes", way))


def sequence(rng: np.random.Generator, size: float) -> Scene:
    """The rim before the disc that it was to cover the edge of."""
    radius, width = rng.uniform(7, 11), rng.uniform(2.6, 3.6)
    steps = [
        ring("rim", GOLD, CENTRE, radius, width),
        disc("disc", NAVY, CENTRE, radius, rng.uniform(0, 180)),
    ]
    return Scene(company(rng) + steps, Plant("sequence", ("rim", "disc"), None, ("gap", "registration")))


def buried_detail(rng: np.random.Generator, size: float) -> Scene:
    """A small mark, and a fill over it."""
    size = rng.uniform(3.0, 9.0)
    mark = column("mark below", RED, CENTRE, size, min(size / 2, 3.0))
    over = panel("over", NAVY, CENTRE, (size + 6, size + 6), rng.uniform(0, 180))
    along = ("crowding", "registration", "gap")
    return Scene([*company(rng), mark, over], Plant("buried-detail", ("mark below",), size, along))


FAULTS: Faults = {
    "gap": (gap, 0.3, False),
    "thin-cover": (thin_cover, 0.6, False),
    "crowding": (crowding, 1.0, False),
    "repeated-hole": (repeated_hole, None, False),
    "registration": (registration, 0.7, False),
    "sequence": (sequence, None, False),
    "buried-detail": (buried_detail, None, False),
}
