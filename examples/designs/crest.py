"""The club's round crest, 81 mm across: the otter before crossed oars, in a ring of letters."""

from __future__ import annotations

from designs import figures
from designs.club import CREAM, GOLD, NAVY, SKY, Pen, Step, sew
from digitize.parts import Part
from digitize.sewing import Sewing
from digitize.shapes import circle, symmetric

DISC_MM = 27.0  # radii: the disc and the band meet under the inner ring, the outer ring ends the crest
BAND_MM = (27.1, 38.2)
INNER_RING_MM = (26.3, 28.1)
OUTER_RING_MM = (37.4, 40.4)
RING_SPACING_MM = 0.46  # on the outer edge, which is the longer one
LETTERS_MM, FOOT_MM, TRACKING_MM = 6.1, 29.8, 0.5
WAVES = ((16.3, 20.9, 2.4), (19.7, 18.1, 2.3), (23.0, 13.6, 2.2))
ORNAMENT_MM = 32.75


def crest() -> Sewing:
    """The crest as it should be sewn."""
    return sew(steps(Pen()))


def steps(pen: Pen) -> list[Step]:
    """All objects of the crest in sewing order."""
    return [
        disc(pen),
        band(pen, BAND_MM),
        *figures.oar_shafts(pen),
        *figures.oar_blades(pen),
        *figures.belly(pen),
        *figures.muzzle(pen),
        *lettering(pen),
        *figures.body(pen),
        *figures.head(pen),
        *(Step(f"wave {i + 1}", NAVY, pen.wave(*row)) for i, row in enumerate(WAVES)),
        *figures.face(pen),
        *figures.glints(pen),
        Step("inner ring", GOLD, ring(pen, *INNER_RING_MM)),
        *ornaments(pen),
        Step("outer ring", GOLD, ring(pen, *OUTER_RING_MM)),
    ]


def disc(pen: Pen) -> Step:
    """The sky, left open under the otter so that no cloth carries three layers."""
    return Step("disc", SKY, pen.ground([circle(DISC_MM), symmetric(figures.UNDER_OTTER)], 0))


def band(pen: Pen, radii_mm: tuple[float, float]) -> Step:
    """The ground of the letters."""
    return Step("band", NAVY, pen.ground([circle(radii_mm[1]), circle(radii_mm[0])], 90))


def lettering(pen: Pen) -> list[Step]:
    """The club's name, above and below."""
    how = {"height_mm": LETTERS_MM, "tracking_mm": TRACKING_MM}
    return [
        *pen.arc_text("OTTER & OAR", CREAM, radius_mm=FOOT_MM, middle_deg=270, **how),
        *pen.arc_text("ROWING CLUB", CREAM, radius_mm=FOOT_MM + LETTERS_MM, middle_deg=90, **how),
    ]


def ornaments(pen: Pen) -> list[Step]:
    """A diamond between two dots on either side."""
    return [
        Step("ornament", GOLD, parts)
        for x in (-ORNAMENT_MM, ORNAMENT_MM)
        for parts in (pen.oval(x, -4.6, 1.3), pen.lozenge(x, 0, 2.6, 5.2), pen.oval(x, 4.6, 1.3))
    ]


def ring(pen: Pen, inner_mm: float, outer_mm: float) -> list[Part]:
    """A satin ring about the middle, begun and ended at the left."""
    return pen.satin(
        circle(inner_mm, start_deg=180), circle(outer_mm, start_deg=180), spacing_mm=RING_SPACING_MM
    )
