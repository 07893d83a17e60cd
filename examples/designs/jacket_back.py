"""The crest for a jacket back, 287 mm across and over 100,000 stitches."""

from __future__ import annotations

from designs.club import Pen, sew
from designs.crest import steps
from digitize.sewing import Sewing

# Closer and shorter stitches than the small crest: large fills lie flat and do not snag.
PEN = Pen(scale=3.55, row_spacing_mm=0.36, stitch_mm=2.9, ground_stitch_mm=2.9)


def jacket_back() -> Sewing:
    """The crest's objects at jacket size."""
    return sew(steps(PEN))
