"""How each kind of fault is planted, at any size."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from designs.club import GOLD, NAVY, RED, Step
from digitize import applique
from digitize.parts import Part
from digitize.satin import satin_path, zigzag
from digitize.shapes import circle
from planting.scenes import Plant, Scene, column, company, disc, panel, ring, run, word
from render.model import BlockTreatment

Maker = Callable[[np.random.Generator, float], Scene]
CENTRE = (14.0, 0.0)  # of the fault, to the right of what keeps it company


def gap(rng: np.random.Generator, size: float) -> Scene:
    """A disc and a ring that does not reach it, all round."""
    radius, width = rng.uniform(7, 11), rng.uniform(2.5, 3.5)
    steps = [
        disc("disc", NAVY, CENTRE, radius, rng.uniform(0, 180)),
        ring("rim", GOLD, CENTRE, radius + size + width / 2, width),
    ]
    return Scene(company(rng) + steps, Plant("gap", ("disc", "rim"), size, ("registration",), "gap"))


def thin_cover(rng: np.random.Generator, size: float) -> Scene:
    """A fill whose rows are far apart."""
    wide, high = rng.uniform(10, 16), rng.uniform(10, 16)
    thin = panel("thin", RED, CENTRE, (wide, high), rng.uniform(0, 180), row_spacing_mm=size)
    return Scene([*company(rng), thin], Plant("thin-cover", ("thin",), size, ("gap",)))


def short_stitch(rng: np.random.Generator, size: float) -> Scene:
    """A run of short stitches."""
    angle = rng.uniform(0, np.pi)
    way = np.arange(rng.integers(15, 40))[:, None] * size * np.array([[np.cos(angle), np.sin(angle)]])
    return Scene(
        [*company(rng), run("short", NAVY, way + CENTRE)],
        Plant("short-stitch", ("short",), size, ("crowding", "repeated-hole"), "shortest"),
    )


def long_stitch(rng: np.random.Generator, size: float) -> Scene:
    """A few long stitches in a line, between short ones."""
    angle, count = rng.uniform(-0.6, 0.6), rng.integers(2, 5)
    steps = np.concatenate([[0.0, 2.0, 2.0], np.full(count, size), [2.0, 2.0]])
    points = CENTRE + np.cumsum(steps)[:, None] * np.array([np.cos(angle), np.sin(angle)])
    return Scene(
        [*company(rng), run("long", NAVY, points)], Plant("long-stitch", ("long",), size, (), "longest")
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
        Plant("uncut-jump", ("from", "to"), size, ("crowding", "gap", "registration"), "jump"),
    )


def needless_trim(rng: np.random.Generator, size: float) -> Scene:
    """Two runs with a cut between ends that nearly meet; nearer ends would be sewn on."""
    size = max(size, 0.8)
    way = np.arange(8)[:, None] * np.array([[2.0, 0.0]])
    first = run("first", NAVY, way + CENTRE)
    second = run("second", NAVY, way + CENTRE + (14.0 + size, 0.0))
    return Scene(
        [*company(rng), first, second], Plant("needless-trim", ("first", "second"), size, (), "jump")
    )


def crowding(rng: np.random.Generator, size: float) -> Scene:
    """A square satin sewn six times over."""
    blob = [column(f"blob {k}", NAVY, CENTRE, size, size) for k in range(6)]
    steps = [Step(f"blob {k}", NAVY, blob[k].parts) for k in range(6)]
    names = tuple(step.name for step in steps)
    along = ("repeated-hole", "needless-trim", "short-stitch", "narrow-column", "registration")
    return Scene([*company(rng), *steps], Plant("crowding", names, size, along, "crowded"))


def repeated_hole(rng: np.random.Generator, size: float) -> Scene:
    """A star: all stitches meet in one needle hole."""
    count = 24
    points = [np.array(CENTRE)]
    for angle in np.linspace(0, 2 * np.pi, count, endpoint=False):
        points += [CENTRE + 4.0 * np.array([np.cos(angle), np.sin(angle)]), np.array(CENTRE)]
    # Its tips are so far apart that cloth does show between them.
    along = ("crowding", "narrow-column", "no-underlay", "small-lettering", "thin-cover")
    return Scene([*company(rng), run("star", RED, points)], Plant("repeated-hole", ("star",), None, along))


def narrow_column(rng: np.random.Generator, size: float) -> Scene:
    """A column that is to sew out so wide: with what the cloth takes, given back later by the twin."""
    narrow = column("narrow", RED, CENTRE, rng.uniform(8, 16), size + 0.12, angle_deg=rng.uniform(0, 180))
    return Scene(
        [*company(rng), narrow],
        Plant("narrow-column", ("narrow",), size, ("crowding", "short-stitch", "repeated-hole"), "width"),
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


def no_tie(rng: np.random.Generator, size: float) -> Scene:
    """A column whose thread begins without a tie."""
    loose = column("loose", GOLD, CENTRE, rng.uniform(8, 16), rng.uniform(3.5, 5))
    return Scene([*company(rng), loose], Plant("no-tie", ("loose",)), untied="loose")


def small_lettering(rng: np.random.Generator, size: float) -> Scene:
    """A word in low letters; nobody sews lower ones than this."""
    size = max(size, 1.6)
    text = "OTTER" if rng.random() < 0.5 else "CREW"
    along = ("narrow-column", "short-stitch", "crowding", "repeated-hole", "needless-trim")
    names = tuple(f"low {k} {char}" for k, char in enumerate(text))
    return Scene(
        [*company(rng), *word("low", NAVY, text, size, CENTRE)], Plant("small-lettering", names, size, along)
    )


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


def one_way_pull(rng: np.random.Generator, size: float) -> Scene:
    """Three fields in a row that all lie the same way."""
    angle = rng.uniform(0, 180)
    wide = size / 3 - 1.0
    fields = [
        panel(f"field {k}", (NAVY, RED, NAVY)[k], (CENTRE[0] + k * size / 3, 0.0), (wide, 12.0), angle)
        for k in range(3)
    ]
    names = tuple(step.name for step in fields)
    return Scene(list(fields), Plant("one-way-pull", names, size, ("registration", "gap"), "extent"))


def registration(rng: np.random.Generator, size: float) -> Scene:
    """Two fields side by side, of which the second comes to lie so far from where it was meant."""
    wide, high = rng.uniform(9, 13), rng.uniform(10, 14)
    first = panel("stays", NAVY, CENTRE, (wide, high), rng.uniform(0, 180))
    second = panel("goes", RED, (CENTRE[0] + wide - 0.5, 0.0), (wide, high), rng.uniform(0, 180))
    angle = rng.uniform(0, 2 * np.pi)
    way = (size * float(np.cos(angle)), size * float(np.sin(angle)))
    plant = Plant("registration", ("stays", "goes"), size, ("gap", "one-way-pull"), "shift")
    return Scene([*company(rng), first, second], plant, moved=("goes", way))


def hoop(rng: np.random.Generator, size: float) -> Scene:
    """A design wider than its hoop of 100 mm by so much."""
    wide = 100.0 + size
    bars = [
        column("left", RED, (-wide / 2 + 1.5, 0.0), 20.0, 3.0),
        column("right", RED, (wide / 2 - 1.5, 0.0), 20.0, 3.0),
    ]
    return Scene(list(bars), Plant("hoop", ("left", "right"), size, (), "beyond"), {"hoop": "square-100"})


def cap_field(rng: np.random.Generator, size: float) -> Scene:
    """A design too high for a cap, from the brim up."""
    high = 50.0 + size
    bars = [
        column(f"bar {k}", RED, (x, y), 9.0, 3.0)
        for k, (x, y) in enumerate([(-6.0, high / 2 - 4.5), (6.0, 4.0), (-6.0, -6.0), (6.0, -high / 2 + 4.5)])
    ]
    job = {"fabric": "cap-front", "hoop": "cap-frame"}
    along = ("seam", "sequence", "registration")
    return Scene(list(bars), Plant("cap-field", ("bar 0", "bar 3"), size, along, "too-high"), job)


def seam(rng: np.random.Generator, size: float) -> Scene:
    """A column along the middle of a cap."""
    beside = [column(f"side {s}", RED, (12.0 * s, 14.0), 8.0, 3.0) for s in (-1, 1)]
    middle = column("middle", NAVY, (0.0, -4.0), size, 2.6)
    job = {"fabric": "cap-front", "hoop": "cap-frame"}
    along = ("sequence", "registration", "cap-field")
    return Scene([*beside, middle], Plant("seam", ("middle",), size, along), job)


def _piece(rng: np.random.Generator) -> tuple[Any, Any, Any]:
    outline = circle(rng.uniform(8, 12), CENTRE)
    return (
        Step("placement", NAVY, applique.placement(outline)),
        Step("tack", RED, applique.tack_down(outline)),
        Step("cover", GOLD, applique.cover(outline)),
    )


def applique_order(rng: np.random.Generator, size: float) -> Scene:
    """The cover before the tack-down, or no cover at all."""
    placement, tack, cover = _piece(rng)
    steps = (
        [placement, "stop", cover, "stop", tack] if rng.random() < 0.5 else [placement, "stop", tack, "stop"]
    )
    if steps[-1] == "stop":
        steps.append(column("after", GOLD, (CENTRE[0] + 22, 0.0), 9.0, 3.0))
    blocks = {0: BlockTreatment("applique", fabric="felt", colour_srgb=(0.2, 0.4, 0.4))}
    along = ("missing-stop", "registration", "gap", "no-underlay", "buried-detail")
    return Scene(steps, Plant("applique-order", ("placement",), None, along), {}, blocks)


def missing_stop(rng: np.random.Generator, size: float) -> Scene:
    """All in order, but the machine of several needles sews on."""
    steps = list(_piece(rng))
    blocks = {0: BlockTreatment("applique", fabric="felt", colour_srgb=(0.2, 0.4, 0.4))}
    along = ("registration", "gap", "buried-detail")
    return Scene(
        steps, Plant("missing-stop", ("placement",), None, along), {"machine": "multi-needle"}, blocks
    )


# Kind -> maker, the limit on twill (None without a size), and whether smaller is worse.
FAULTS: dict[str, tuple[Maker, float | None, bool]] = {
    "gap": (gap, 0.3, False),
    "thin-cover": (thin_cover, 0.6, False),
    "short-stitch": (short_stitch, 0.5, True),
    "long-stitch": (long_stitch, 7.0, False),
    "uncut-jump": (uncut_jump, 3.0, False),
    "needless-trim": (needless_trim, 2.0, True),
    "crowding": (crowding, 1.0, False),
    "repeated-hole": (repeated_hole, None, False),
    "narrow-column": (narrow_column, 0.6, True),
    "wide-column": (wide_column, 8.0, False),
    "no-underlay": (no_underlay, 2.5, False),
    "no-tie": (no_tie, None, False),
    "small-lettering": (small_lettering, 4.0, True),
    "sequence": (sequence, None, False),
    "buried-detail": (buried_detail, None, False),
    "one-way-pull": (one_way_pull, 40.0, False),
    "registration": (registration, 0.7, False),
    "hoop": (hoop, 0.0, False),
    "cap-field": (cap_field, 0.0, False),
    "seam": (seam, 8.0, False),
    "applique-order": (applique_order, None, False),
    "missing-stop": (missing_stop, None, False),
}
