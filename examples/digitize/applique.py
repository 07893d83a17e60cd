"""Appliqué: a line that shows where the cloth goes, one that holds it, and the cover over its edge."""

from __future__ import annotations

import numpy as np

from digitize.parts import Part, Points
from digitize.running import running
from digitize.satin import satin
from digitize.shapes import offset, resample

TACK_INSIDE_MM = 0.9  # from the edge of the cloth (common practice, no source)
COVER_MM = 3.2


def placement(outline: Points) -> list[Part]:
    """The outline in running stitches: the cloth is laid on it."""
    return running(outline, 2.5)


def tack_down(outline: Points) -> list[Part]:
    """Twice round, a little inside the edge: the cloth is trimmed close to it."""
    inside = resample(_inwards(outline, TACK_INSIDE_MM), 2.0)
    return [Part("running", np.concatenate([inside, inside[1:]]))]


def cover(outline: Points, width_mm: float = COVER_MM) -> list[Part]:
    """A satin border over the cut edge; the tack-down is underlay enough."""
    even = resample(outline, 0.6)
    return satin(_inwards(even, width_mm / 2), _inwards(even, -width_mm / 2), underlay=False)


def _inwards(outline: Points, distance_mm: float) -> Points:
    """The closed outline drawn in (or out, if negative), whichever way round it runs."""
    x, y = outline[:-1].T
    clockwise = float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) > 0
    return offset(outline, distance_mm if clockwise else -distance_mm)
