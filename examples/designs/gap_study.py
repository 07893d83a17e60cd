"""A filled disc whose border just meets it, and a satin letter: what a soft cloth does at row ends."""

from __future__ import annotations

from designs.club import GOLD, NAVY, RED, Step, sew
from digitize.fill import fill
from digitize.lettering import letters_on_line
from digitize.satin import satin_path
from digitize.sewing import Sewing
from digitize.shapes import circle

RADIUS_MM, BORDER_MM = 12.0, 2.8
DISC_MM, LETTER_MM = (-15.0, 0.0), (6.0, 9.0)


def gap_study() -> Sewing:
    """The disc's rows run across; its border begins where they end, with no overlap to spare."""
    disc = fill([circle(RADIUS_MM, DISC_MM)], angle_deg=0.0)
    border = satin_path(circle(RADIUS_MM + BORDER_MM / 2, DISC_MM), BORDER_MM)
    (letter,) = letters_on_line("O", height_mm=18.0, left_mm=LETTER_MM)
    return sew([Step("disc", NAVY, disc), Step("letter", RED, letter), Step("border", GOLD, border)])
