"""An oar 120 mm long whose blade is a piece of cloth: placement, tack-down and cover, with stops."""

from __future__ import annotations

import numpy as np

from designs.club import CREAM, GOLD, NAVY, RED
from digitize.applique import cover, placement, tack_down
from digitize.lettering import letters_on_line, text_width_mm
from digitize.parts import Points
from digitize.satin import satin_path
from digitize.sewing import Sewing
from digitize.shapes import smooth

BLADE = [(8, 2.2), (13, 4.6), (20, 8.2), (28, 10), (40, 10.4), (52, 10), (57.4, 8.2), (59.2, 4)]
SHAFT_MM, GRIP_MM = 3.4, 4.4
LETTERS_MM = 8.0
STRIPES_MM = ((18.6, 7.2), (51.6, 9.6))  # where, and reach to both sides


def applique_oar() -> Sewing:
    """The shaft, the cloth of the blade over its end, and the rest on top."""
    blade, sewing = _blade(), Sewing()
    sewing.thread(GOLD)
    sewing.sew("shaft", satin_path(np.array([(7.4, 0.0), (-46.0, 0.0)]), SHAFT_MM))
    sewing.thread(RED)
    sewing.sew("placement", placement(blade))
    sewing.stop()
    sewing.sew("tack-down", tack_down(blade))
    sewing.stop()
    sewing.sew("cover", cover(blade))
    sewing.thread(NAVY)
    sewing.sew("grip", satin_path(np.array([(-45.4, 0.0), (-59.6, 0.0)]), GRIP_MM))
    for x, reach in STRIPES_MM:
        sewing.sew("stripe", satin_path(np.array([(x, -reach), (x, reach)]), 2.4))
    sewing.thread(CREAM)
    left = 35.4 - text_width_mm("O&O", LETTERS_MM) / 2
    for letter in letters_on_line("O&O", height_mm=LETTERS_MM, left_mm=(left, LETTERS_MM / 2)):
        sewing.sew("letter", letter)
    sewing.finish()
    return sewing


def _blade() -> Points:
    return smooth([*BLADE, (59.6, 0), *((x, -y) for x, y in BLADE[::-1])], closed=True)
