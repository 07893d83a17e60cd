"""A left-chest wordmark, 90 mm wide: the club's name over an oar on a wave."""

from __future__ import annotations

import numpy as np

from designs.club import CREAM, GOLD, RED, SKY, Pen, Step, sew
from digitize.lettering import letters_on_line, text_width_mm
from digitize.sewing import Sewing
from digitize.shapes import smooth

NAME_MM, CLUB_MM = 8.2, 5.2  # heights of the capitals
NAME_TRACKING_MM, CLUB_TRACKING_MM = 0.6, 1.7
OAR_Y_MM, OAR_REACH_MM = 4.6, 44.0
BLADE = [(28.6, 0.8), (29.8, 1.5), (32.5, 2.1), (38.0, 2.3), (42.0, 2.2), (43.6, 1.4)]


def wordmark() -> Sewing:
    """Wave, oar, then both lines of letters from left to right."""
    pen = Pen()
    return sew(
        [
            Step("wave", SKY, pen.wave(8.3, 44.0, 1.9)),
            *_oar(pen),
            *_line("OTTER & OAR", NAME_MM, 0.0, NAME_TRACKING_MM),
            *_line("ROWING CLUB", CLUB_MM, 16.6, CLUB_TRACKING_MM),
        ]
    )


def _oar(pen: Pen) -> list[Step]:
    """Shaft, blade and grip, lying under the name."""
    shaft = np.array([(-OAR_REACH_MM + 4.0, OAR_Y_MM), (BLADE[1][0], OAR_Y_MM)])
    grip = np.array([(-OAR_REACH_MM, OAR_Y_MM), (-OAR_REACH_MM + 4.6, OAR_Y_MM)])
    edge = (
        [(x, OAR_Y_MM - w) for x, w in BLADE]
        + [(44.2, OAR_Y_MM)]
        + [(x, OAR_Y_MM + w) for x, w in BLADE[::-1]]
    )
    return [
        Step("oar shaft", GOLD, pen.satin_path(shaft[::-1], 1.5)),
        Step("oar grip", RED, pen.satin_path(grip, 2.1)),
        Step("oar blade", RED, pen.fill([smooth(edge, closed=True)], 0)),
    ]


def _line(text: str, height_mm: float, foot_mm: float, tracking_mm: float) -> list[Step]:
    """A line of letters in the middle, its feet at `foot_mm`."""
    left = -text_width_mm(text, height_mm, tracking_mm) / 2
    letters = letters_on_line(text, height_mm=height_mm, left_mm=(left, foot_mm), tracking_mm=tracking_mm)
    chars = text.replace(" ", "")
    return [Step(f"letter {char}", CREAM, parts) for char, parts in zip(chars, letters, strict=True)]
