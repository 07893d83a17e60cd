"""Columns, their underlay, and letters made of them."""

from __future__ import annotations

import numpy as np

from designs.club import GOLD, NAVY, RED, Step
from digitize.parts import Part
from digitize.satin import satin_path, zigzag
from planting import twins
from planting.faults import CENTRE, Faults
from planting.scenes import Plant, Scene, column, company, word


def narrow_column(rng: np.random.Generator, size: float) -> Scene:
    """A column that is to sew out so wide: with what the cloth takes, given back later by the twin."""
    narrow = column("narrow", RED, CENTRE, rng.uniform(8, 16), size + 0.12, angle_deg=rng.uniform(0, 180))
    return Scene(
        [*company(rng), narrow],
        Plant("narrow-column", ("narrow",), size, ("crowding", "short-stitch", "repeated-hole"), twins.width),
    )


def wide_column(rng: np.random.Generator, size: float) -> Scene:
    """A satin whose stitches go all the way across."""
    length = rng.uniform(12, 20)
    rails = [np.array([[x, -length / 2], [x, length / 2]]) + CENTRE for x in (-size / 2, size / 2)]
    under = satin_path(np.array([[0.0, -length / 2], [0.0, length / 2]]) + CENTRE, min(size, 6.5))[:-1]
    parts = [*under, Part("satin", zigzag(rails[0][::-1], rails[1][::-1], 0.4), 0.4, 0.0, size)]
    along = ("long-stitch", "one-way-pull", "no-underlay")
    return Scene([*company(rng), Step("wide", GOLD, parts)], Plant("wide-column", ("wide",), size, along))


def no_underlay(rng: np.random.Generator, size: float) -> Scene:
    """A column on bare cloth."""
    bare = column(
        "bare", GOLD, CENTRE, rng.uniform(10, 18), size, angle_deg=rng.uniform(0, 180), underlay=False
    )
    return Scene([*company(rng), bare], Plant("no-underlay", ("bare",), size, ("wide-column",)))


def small_lettering(rng: np.random.Generator, size: float) -> Scene:
    """A word in low letters; nobody sews lower ones than this."""
    size = max(size, 1.6)
    text = "OTTER" if rng.random() < 0.5 else "CREW"
    along = ("narrow-column", "short-stitch", "crowding", "repeated-hole", "needless-trim")
    names = tuple(f"low {k} {char}" for k, char in enumerate(text))
    return Scene(
        [*company(rng), *word("low", NAVY, text, size, CENTRE)], Plant("small-lettering", names, size, along)
    )


FAULTS: Faults = {
    "narrow-column": (narrow_column, 0.6, True),
    "wide-column": (wide_column, 8.0, False),
    "no-underlay": (no_underlay, 2.5, False),
    "small-lettering": (small_lettering, 4.0, True),
}
