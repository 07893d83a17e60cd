"""The test swatch: its design, and the list and the sheet that its readings go into."""

from render.swatch.columns import Column, Swatch, make_swatch
from render.swatch.template import readings_template

__all__ = ["Column", "Swatch", "make_swatch", "readings_template"]
