"""The club's round crest, about 83 mm across: the otter before crossed oars, in a ring of letters."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from designs import club
from digitize.fill import fill
from digitize.lettering import letters_on_arc
from digitize.parts import Part, Points
from digitize.running import bean
from digitize.satin import satin, satin_path
from digitize.sewing import Sewing, Thread
from digitize.shapes import circle, mirrored, smooth, symmetric

DISC_MM = 27.0  # radii: the disc and the band meet under the inner ring, the outer ring ends the crest
BAND_MM = 38.2
INNER_RING_MM = (26.3, 28.1)
OUTER_RING_MM = (37.4, 40.4)
LETTERS_MM = 6.1
LETTERS_FOOT_MM = 29.8
RING_SPACING_MM = 0.46  # on the outer edge, which is the longer one
GROUND = {"row_spacing_mm": 0.4, "stitch_mm": 4.8}

# Right halves and right sides of the otter.
HEAD = [(0, -15.8), (4.6, -15.4), (8.1, -12.9), (9.8, -9.2), (10.1, -5.6), (8.5, -2.1), (4.6, 0), (0, 0.7)]
JAW = [(9.8, -5.6), (8.2, -2.3), (4.5, -0.3), (0, 0.3), (-4.5, -0.3), (-8.2, -2.3), (-9.8, -5.6)]
MUZZLE = [(0, -7.4), (2.5, -8), (5.2, -6.9), (6.5, -4.4), (5.7, -2.1), (3.3, -0.9), (1.4, -0.4), (0, -0.3)]
BELLY = [(0, -0.1), (3.2, 0.8), (5.1, 4.1), (5.8, 8.2), (5.8, 12.2), (5.5, 16.2), (0, 16.6)]
FLANK = [(4, -0.7), (7.3, 1), (9.6, 5.2), (10.9, 10.2), (11.3, 16.4), (8.2, 16.6), (5.1, 16.4)]
FLANK_INNER = [(5.4, 12.2), (5.3, 8.2), (4.5, 4.4), (2.8, 1.3)]
TAIL = [(11.3, 16.6), (17.2, 15.8), (20.5, 11.6), (20, 6.7), (21.6, 2.7)]
UNDER_OTTER = [(0, -14), (4.2, -13.5), (6.9, -11.3), (8.2, -7.8), (7.3, -3.4), (6.2, 1), (8.1, 6.7), (9.2, 12.6), (9.2, 15.3), (0, 15.3)]


@dataclass(frozen=True, slots=True)
class Step:
    """One object of the design: its name, thread and parts."""

    name: str
    thread: Thread
    parts: list[Part]


def steps(fill_deg: float | None = None) -> list[Step]:
    """All objects in sewing order; `fill_deg` turns every fill to one angle."""
    return [*_ground(fill_deg), *_oars(fill_deg), *_otter(fill_deg), *_water_and_face(), *_rings()]


def sew(objects: Iterable[Step]) -> Sewing:
    """Sew the objects, changing thread where the next one needs it."""
    sewing = Sewing()
    for step in objects:
        if not sewing.threads or sewing.threads[-1] != step.thread:
            sewing.thread(step.thread)
        sewing.sew(step.name, step.parts)
    sewing.finish()
    return sewing


def crest() -> Sewing:
    """The crest as it should be sewn."""
    return sew(steps())


def _ground(fill_deg: float | None) -> list[Step]:
    band = [circle(BAND_MM), circle(DISC_MM + 0.1)]
    return [
        Step("disc", club.SKY, fill([circle(DISC_MM), symmetric(UNDER_OTTER)], angle_deg=_deg(0, fill_deg), **GROUND)),
        Step("band", club.NAVY, fill(band, angle_deg=_deg(90, fill_deg), **GROUND)),
    ]


def _oars(fill_deg: float | None) -> list[Step]:
    shaft = np.array([club.on_oar(0.0), club.on_oar(36.0)])
    angle = club.oar_blade_deg()
    right, left = club.sides(club.blade())
    stripe = np.array([club.on_oar(40.6, -2.9), club.on_oar(40.6, 2.9)])
    return [
        Step("left oar shaft", club.GOLD, satin_path(mirrored(shaft), 1.7)),
        Step("right oar shaft", club.GOLD, satin_path(shaft[::-1], 1.7)),
        Step("right blade", club.RED, fill([right], angle_deg=_deg(angle, fill_deg))),
        Step("left blade", club.RED, fill([left], angle_deg=_deg(-angle, fill_deg))),
        Step("left blade stripe", club.CREAM, satin_path(mirrored(stripe), 2.2)),
        Step("right blade stripe", club.CREAM, satin_path(stripe, 2.2)),
    ]


def _otter(fill_deg: float | None) -> list[Step]:
    belly, muzzle = symmetric(BELLY), _muzzle_half()
    lines = (("OTTER & OAR", 270.0, LETTERS_FOOT_MM), ("ROWING CLUB", 90.0, LETTERS_FOOT_MM + LETTERS_MM))
    letters = [
        Step(f"letter {char}", club.CREAM, parts)
        for text, middle, radius in lines
        for char, parts in zip(
            text.replace(" ", ""),
            letters_on_arc(text, height_mm=LETTERS_MM, radius_mm=radius, middle_deg=middle, tracking_mm=0.5),
            strict=True,
        )
    ]
    flank = smooth([*FLANK, *FLANK_INNER], closed=True)
    head = [symmetric(HEAD), symmetric(_inner(MUZZLE, 0.35))]
    arm = smooth([(8, 4.3), (7, 7.8), (4.3, 9.9), (1.7, 9.7)])
    width = np.array([2.6, 2.9, 2.8, 2.6, 2.5, 1.5])
    return [
        Step("belly", club.CREAM, fill([belly], angle_deg=_deg(0, fill_deg))),
        Step("right muzzle", club.CREAM, fill([muzzle], angle_deg=_deg(125, fill_deg))),
        Step("left muzzle", club.CREAM, fill([mirrored(muzzle)], angle_deg=_deg(55, fill_deg))),
        *letters,
        Step("tail", club.BROWN, satin_path(smooth(TAIL)[::-1], np.array([1.0, 2.6, 3.6, 4.2, 4.4]))),
        Step("right flank", club.BROWN, fill([flank], angle_deg=_deg(70, fill_deg))),
        Step("right arm", club.BROWN, satin_path(arm, width)),
        Step("left arm", club.BROWN, satin_path(arm * (-1, 1), width)),
        Step("left flank", club.BROWN, fill([mirrored(flank)], angle_deg=_deg(110, fill_deg))),
        Step("left ear", club.BROWN, club.dot(-9.1, -12.9, 4.0)),
        Step("head", club.BROWN, fill(head, angle_deg=_deg(90, fill_deg))),
        Step("jaw", club.BROWN, satin_path(smooth(JAW), np.array([0.8, 1.5, 1.7, 1.7, 1.7, 1.5, 0.8]))),
        Step("right ear", club.BROWN, club.dot(9.1, -12.9, 4.0)),
    ]


def _water_and_face() -> list[Step]:
    rows = ((16.3, 20.9, 2.4), (19.7, 18.1, 2.3), (23.0, 13.6, 2.2))
    nose = np.array([(-2.6, -8.6), (-1.3, -9.2), (0, -9.4), (1.3, -9.2), (2.6, -8.6)])
    nose_foot = np.array([(-2.3, -7.7), (-1.3, -6.5), (0, -5.8), (1.3, -6.5), (2.3, -7.7)])
    smile = [(-2.9, -3), (-2, -2.2), (-0.9, -2.5), (0, -3.7), (0.9, -2.5), (2, -2.2), (2.9, -3)]
    whiskers = [
        Step(f"{side} whisker {i + 1}", club.NAVY, bean(path * (sign, 1), 1.6))
        for side, sign in (("right", 1), ("left", -1))
        for i, path in enumerate(_whiskers())
    ]
    return [
        *(Step(f"wave {i + 1}", club.NAVY, club.wave(*row)) for i, row in enumerate(rows)),
        *whiskers,
        Step("smile", club.NAVY, bean(smooth(smile), 1.2)),
        Step("lip", club.NAVY, bean([(0, -3.7), (0, -6.2)], 1.2)),
        Step("nose", club.NAVY, satin(nose, nose_foot)),
        Step("right eye", club.NAVY, club.dot(4.8, -10.1, 2.4, 2.7)),
        Step("left eye", club.NAVY, club.dot(-4.8, -10.1, 2.4, 2.7)),
    ]


def _rings() -> list[Step]:
    ornaments = [
        Step("ornament", club.GOLD, parts)
        for side in (-1, 1)
        for parts in (club.lozenge(side * 32.75, 0, 2.6, 5.2), club.dot(side * 32.75, -4.6, 1.3), club.dot(side * 32.75, 4.6, 1.3))
    ]
    glints = [Step("eye glint", club.GOLD, bean([(x - 0.1, -10.8), (x + 0.7, -10.6)], 0.9)) for x in (4.7, -5.3)]
    return [
        *glints,
        Step("inner ring", club.GOLD, ring(*INNER_RING_MM)),
        *ornaments,
        Step("outer ring", club.GOLD, ring(*OUTER_RING_MM)),
    ]


def ring(inner_mm: float, outer_mm: float) -> list[Part]:
    """A satin ring about the origin, begun and ended at the left."""
    return satin(circle(inner_mm, start_deg=180), circle(outer_mm, start_deg=180), spacing_mm=RING_SPACING_MM)


def _muzzle_half() -> Points:
    outline = symmetric(MUZZLE)
    right = outline[outline[:, 0] >= -0.25]
    return right[np.argsort(np.arctan2(right[:, 1] + 3.8, right[:, 0] + 0.2))]


def _inner(half: list[tuple[float, float]], inset_mm: float) -> list[tuple[float, float]]:
    """The right half of an outline, smaller by about `inset_mm` (towards its middle)."""
    middle = np.array([0.0, np.mean([y for _, y in half])])
    points = np.array(half, dtype=float) - middle
    shrunk = points * (1 - inset_mm / np.maximum(np.hypot(*points.T), 1e-9))[:, None] + middle
    return [(float(x), float(y)) for x, y in shrunk]


def _whiskers() -> list[Points]:
    return [
        smooth([(4.4, -4.8), (8.8, -5.8), (13.6, -5.1)]),
        smooth([(13, -2.4), (8.8, -3.7), (4.6, -3.9)]),
        smooth([(4.4, -2.9), (8.2, -2), (11.8, 0.1)]),
    ]


def _deg(own: float, forced: float | None) -> float:
    return own if forced is None else forced
