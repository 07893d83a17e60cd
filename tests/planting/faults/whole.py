"""The design as a whole: what pulls one way, and what it is to fit."""

from __future__ import annotations

import numpy as np

from designs.club import NAVY, RED
from planting import twins
from planting.faults import CENTRE, Faults
from planting.scenes import Plant, Scene, column, panel


def one_way_pull(rng: np.random.Generator, size: float) -> Scene:
    """Three fields in a row that all lie the same way."""
    angle = rng.uniform(0, 180)
    wide = size / 3 - 1.0
    fields = [
        panel(f"field {k}", (NAVY, RED, NAVY)[k], (CENTRE[0] + k * size / 3, 0.0), (wide, 12.0), angle)
        for k in range(3)
    ]
    names = tuple(step.name for step in fields)
    return Scene(list(fields), Plant("one-way-pull", names, size, ("registration", "gap"), twins.extent))


def hoop(rng: np.random.Generator, size: float) -> Scene:
    """A design wider than its hoop of 100 mm by so much."""
    wide = 100.0 + size
    bars = [
        column("left", RED, (-wide / 2 + 1.5, 0.0), 20.0, 3.0),
        column("right", RED, (wide / 2 - 1.5, 0.0), 20.0, 3.0),
    ]
    return Scene(list(bars), Plant("hoop", ("left", "right"), size, (), twins.beyond), {"hoop": "square-100"})


def cap_field(rng: np.random.Generator, size: float) -> Scene:
    """A design too high for a cap, from the brim up."""
    high = 50.0 + size
    bars = [
        column(f"bar {k}", RED, (x, y), 9.0, 3.0)
        for k, (x, y) in enumerate([(-6.0, high / 2 - 4.5), (6.0, 4.0), (-6.0, -6.0), (6.0, -high / 2 + 4.5)])
    ]
    job = {"fabric": "cap-front", "hoop": "cap-frame"}
    along = ("seam", "sequence", "registration")
    return Scene(list(bars), Plant("cap-field", ("bar 0", "bar 3"), size, along, twins.too_high), job)


def seam(rng: np.random.Generator, size: float) -> Scene:
    """A column along the middle of a cap."""
    beside = [column(f"side {s}", RED, (12.0 * s, 14.0), 8.0, 3.0) for s in (-1, 1)]
    middle = column("middle", NAVY, (0.0, -4.0), size, 2.6)
    job = {"fabric": "cap-front", "hoop": "cap-frame"}
    along = ("sequence", "registration", "cap-field")
    return Scene([*beside, middle], Plant("seam", ("middle",), size, along), job)


FAULTS: Faults = {
    "one-way-pull": (one_way_pull, 40.0, False),
    "hoop": (hoop, 0.0, False),
    "cap-field": (cap_field, 0.0, False),
    "seam": (seam, 8.0, False),
}
