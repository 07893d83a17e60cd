"""The otter and the oars, in the crest's mm about the middle of its disc.

Outlines of symmetric figures are given as their right half from top to bottom, those of
pairs as the right one.
"""

from __future__ import annotations

import numpy as np

from designs.club import BROWN, CREAM, GOLD, NAVY, RED, Pen, Step
from digitize.parts import Points, as_points
from digitize.shapes import mirrored, smooth, symmetric

HEAD = [(0, -15.8), (4.6, -15.4), (8.1, -12.9), (9.8, -9.2), (10.1, -5.6), (8.5, -2.1), (4.6, 0), (0, 0.7)]
JAW = [(9.8, -5.6), (8.2, -2.3), (4.5, -0.3), (0, 0.3), (-4.5, -0.3), (-8.2, -2.3), (-9.8, -5.6)]
JAW_MM = [0.8, 1.5, 1.7, 1.7, 1.7, 1.5, 0.8]
MUZZLE = [(0, -7.4), (2.5, -8), (5.2, -6.9), (6.5, -4.4), (5.7, -2.1), (3.3, -0.9), (1.4, -0.4), (0, -0.3)]
MUZZLE_MIDDLE = (0.2, -3.8)
BELLY = [(0, -0.1), (3.2, 0.8), (5.1, 4.1), (5.8, 8.2), (5.8, 12.2), (5.5, 16.2), (0, 16.6)]
FLANK = [(4, -0.7), (7.3, 1), (9.6, 5.2), (10.9, 10.2), (11.3, 16.4), (8.2, 16.6), (5.1, 16.4)]
FLANK_INSIDE = [(5.4, 12.2), (5.3, 8.2), (4.5, 4.4), (2.8, 1.3)]
TAIL = [(11.3, 16.0), (17.2, 15.2), (20.5, 11.5), (20, 6.7), (21.6, 2.8)]
TAIL_MM = [4.4, 4.2, 3.6, 2.6, 1.0]
ARM = [(8, 4.3), (7, 7.8), (4.3, 9.9), (1.7, 9.7)]
ARM_MM = [2.6, 2.9, 2.8, 2.6, 2.5, 1.5]
NOSE = [(-2.6, -8.6), (-1.3, -9.2), (0, -9.4), (1.3, -9.2), (2.6, -8.6)]
NOSE_FOOT = [(-2.3, -7.7), (-1.3, -6.5), (0, -5.8), (1.3, -6.5), (2.3, -7.7)]
SMILE = [(-2.9, -3), (-2, -2.2), (-0.9, -2.5), (0, -3.7), (0.9, -2.5), (2, -2.2), (2.9, -3)]
LIP = [(0, -3.7), (0, -6.2)]
WHISKERS = [
    [(4.4, -4.8), (8.8, -5.8), (13.6, -5.1)],
    [(13, -2.4), (8.8, -3.7), (4.6, -3.9)],
    [(4.4, -2.9), (8.3, -2), (11.8, 0.1)],
]
UNDER_OTTER = [
    (0, -14), (4.2, -13.5), (6.9, -11.3), (8.3, -7.8), (7.3, -3.4),
    (6.2, 1), (8.1, 6.7), (9.2, 12.7), (9.2, 15.3), (0, 15.3),
]  # fmt: skip

OAR_FOOT, OAR_HEAD = as_points([(-14.6, 15.0), (20.4, -14.4)])  # of the oar that leans to the right
SHAFT_MM = (36.0, 1.7)  # length and width
BLADE = [(34.4, 0.7), (35.6, 1.4), (37.5, 2.3), (40.0, 2.7), (42.6, 2.7), (44.4, 2.3), (45.0, 1.2)]
STRIPE_MM = (40.6, 2.9, 2.2)  # from the foot, to both sides, wide


def oar_shafts(pen: Pen) -> list[Step]:
    """Both shafts, crossed."""
    shaft = np.array([on_oar(0.0), on_oar(SHAFT_MM[0])])
    return [
        Step("left oar shaft", GOLD, pen.satin_path(mirrored(shaft), SHAFT_MM[1])),
        Step("right oar shaft", GOLD, pen.satin_path(shaft[::-1], SHAFT_MM[1])),
    ]


def oar_blades(pen: Pen) -> list[Step]:
    """Both blades, then their stripes."""
    edge = [on_oar(*p) for p in BLADE] + [on_oar(45.1)] + [on_oar(a, -w) for a, w in BLADE[::-1]]
    blade = smooth(edge, closed=True)
    dx, dy = OAR_HEAD - OAR_FOOT
    angle = float(np.degrees(np.arctan2(dy, dx)))
    along, aside, wide = STRIPE_MM
    stripe = np.array([on_oar(along, -aside), on_oar(along, aside)])
    return [
        Step("right blade", RED, pen.fill([blade], angle)),
        Step("left blade", RED, pen.fill([mirrored(blade)], -angle)),
        Step("left blade stripe", CREAM, pen.satin_path(mirrored(stripe), wide)),
        Step("right blade stripe", CREAM, pen.satin_path(stripe, wide)),
    ]


def on_oar(along_mm: float, across_mm: float = 0.0) -> tuple[float, float]:
    """A place on the right-leaning oar: mm from its foot, and mm to the right of it."""
    ahead = (OAR_HEAD - OAR_FOOT) / np.hypot(*(OAR_HEAD - OAR_FOOT))
    x, y = OAR_FOOT + along_mm * ahead + across_mm * np.array([-ahead[1], ahead[0]])
    return float(x), float(y)


def belly(pen: Pen) -> list[Step]:
    """The light front."""
    return [Step("belly", CREAM, pen.fill([symmetric(BELLY)], 0))]


def muzzle(pen: Pen) -> list[Step]:
    """The light cheeks, at two angles."""
    outline = symmetric(MUZZLE)
    right = outline[outline[:, 0] >= -0.25]
    around = np.arctan2(right[:, 1] - MUZZLE_MIDDLE[1], right[:, 0] + MUZZLE_MIDDLE[0])
    right = right[np.argsort(around)]
    return [
        Step("right muzzle", CREAM, pen.fill([right], 125)),
        Step("left muzzle", CREAM, pen.fill([mirrored(right)], 55)),
    ]


def body(pen: Pen) -> list[Step]:
    """Tail, flanks and arms."""
    flank = smooth([*FLANK, *FLANK_INSIDE], closed=True)
    arm = smooth(ARM)
    return [
        Step("tail", BROWN, pen.satin_path(smooth(TAIL)[::-1], np.array(TAIL_MM[::-1]))),
        Step("right flank", BROWN, pen.fill([flank], 70)),
        Step("right arm", BROWN, pen.satin_path(arm, np.array(ARM_MM))),
        Step("left arm", BROWN, pen.satin_path(arm * (-1, 1), np.array(ARM_MM))),
        Step("left flank", BROWN, pen.fill([mirrored(flank)], 110)),
    ]


def head(pen: Pen) -> list[Step]:
    """Ears, the head round the muzzle, and the jaw's edge."""
    return [
        Step("left ear", BROWN, pen.oval(-9.1, -12.9, 4.0)),
        Step("head", BROWN, pen.fill([symmetric(HEAD), symmetric(_smaller(MUZZLE, 0.55))], 90)),
        Step("jaw", BROWN, pen.satin_path(smooth(JAW), np.array(JAW_MM))),
        Step("right ear", BROWN, pen.oval(9.1, -12.9, 4.0)),
    ]


def face(pen: Pen) -> list[Step]:
    """Whiskers, mouth, nose and eyes."""
    whiskers = [
        Step(f"{side} whisker {i + 1}", NAVY, pen.bean(smooth(path) * (sign, 1), 1.6))
        for side, sign in (("right", 1), ("left", -1))
        for i, path in enumerate(WHISKERS)
    ]
    return [
        *whiskers,
        Step("smile", NAVY, pen.bean(smooth(SMILE), 1.2)),
        Step("lip", NAVY, pen.bean(LIP, 1.2)),
        Step("nose", NAVY, pen.satin(NOSE, NOSE_FOOT)),
        Step("right eye", NAVY, pen.oval(4.8, -10.1, 2.4, 2.7)),
        Step("left eye", NAVY, pen.oval(-4.8, -10.1, 2.4, 2.7)),
    ]


def glints(pen: Pen) -> list[Step]:
    """A spark in each eye."""
    return [Step("eye glint", GOLD, pen.bean([(x - 0.1, -10.8), (x + 0.7, -10.6)], 0.9)) for x in (4.7, -5.3)]


def _smaller(half: list[tuple[float, float]], inset_mm: float) -> Points:
    """The right half of an outline drawn in by about `inset_mm` towards its middle."""
    middle = np.array([0.0, np.mean([y for _, y in half])])
    points = as_points(half) - middle
    return as_points(points * (1 - inset_mm / np.hypot(*points.T))[:, None] + middle)
