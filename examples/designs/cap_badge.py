"""A badge for a cap front, 47 mm tall: sewn from the brim up and from the middle out.

The cloth of a cap gives and is pushed ahead of the needle; this way it is pushed off the
edges instead of into a bulge (common practice, no source).
"""

from __future__ import annotations

from designs import figures
from designs.club import CREAM, SKY, Pen, Step, sew
from digitize.lettering import letters_on_line, text_width_mm
from digitize.sewing import Sewing

PEN = Pen(scale=1.06)
NAME, LETTERS_MM, TRACKING_MM, FOOT_MM = "OTTER & OAR", 5.2, 0.5, 30.4
WAVES = ((20.6, 15.0, 2.2), (17.5, 19.0, 2.4))  # the lower first


def cap_badge() -> Sewing:
    """Name, waves, oars, and the otter's head on top."""
    waves = [
        Step(f"wave {i + 1}", SKY, PEN.wave(*row, side)) for i, row in enumerate(WAVES) for side in (1, -1)
    ]
    return sew(
        [
            *_name(),
            *waves,
            *figures.oar_shafts(PEN),
            *figures.oar_blades(PEN),
            *figures.muzzle(PEN),
            *figures.head(PEN),
            *figures.face(PEN)[::-1],
            *figures.glints(PEN),
        ]
    )


def _name() -> list[Step]:
    """The letters from the middle one out, first to the right, then to the left."""
    left = -text_width_mm(NAME, LETTERS_MM, TRACKING_MM) / 2
    letters = letters_on_line(NAME, height_mm=LETTERS_MM, left_mm=(left, FOOT_MM), tracking_mm=TRACKING_MM)
    steps = [
        Step(f"letter {c}", CREAM, parts) for c, parts in zip(NAME.replace(" ", ""), letters, strict=True)
    ]
    middle = len(steps) // 2
    return [*steps[middle:], *steps[:middle][::-1]]
