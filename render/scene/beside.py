"""A cap's design as it is worn beside how it lies flat, with its width along the curve and as seen."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from render.compose.lettering import draw_text, wrapped
from render.compose.page import EDGE_PX, WIDTH_PX, fitting_window, paper, reduced, side_by_side, stacked
from render.preview import draw_sewn

if TYPE_CHECKING:
    from render.model import Job, Picture
    from render.preview import SewnDesign
    from render.scene.setting import Setting

WORN_SHARE = 0.62  # of the sheet's width that the worn view has
MOST_PX_PER_MM = 12.0


@dataclass(frozen=True, slots=True)
class CurveWidths:
    """A design's width along the curve, and straight across from edge to edge as it is seen, mm."""

    along_mm: float
    across_mm: float


def curve_widths(setting: Setting, width_mm: float) -> CurveWidths:
    """Of a design so wide, at the height of its middle on the sewn part."""
    from scipy.interpolate import griddata

    (part,) = (one for one in setting.parts if one.sewn)
    place = part.uv_mm - np.array(setting.place_mm)
    near = np.abs(place[..., 1]) < 8.0
    ends = np.array([[-width_mm / 2, 0.0], [width_mm / 2, 0.0]])
    at = griddata(place[near], part.points_mm[near], ends)
    if np.isnan(at).any():  # wider than the cap: as far as that goes
        at = griddata(place[near], part.points_mm[near], ends, method="nearest")
    return CurveWidths(width_mm, float(np.linalg.norm(at[1] - at[0])))


def beside_flat(worn: Picture, ready: SewnDesign, job: Job, setting: Setting) -> Picture:
    """One sheet: the worn view, and the design flat on the same cloth at true proportions."""
    box = ready.sewn.plan.box_mm
    widths = curve_widths(setting, box[2] - box[0])
    wide = round((WIDTH_PX - 2 * EDGE_PX - 30) * WORN_SHARE)
    left = reduced(worn.pixels, wide)
    rest = WIDTH_PX - 2 * EDGE_PX - 30 - wide
    window = fitting_window(box, wide_px=rest, high_px=len(left) - 240, most_px_per_mm=MOST_PX_PER_MM)
    (flat,) = draw_sewn(ready, job, [window])
    card = paper(len(left), rest)
    card[: window.rows, : window.cols] = flat.pixels
    row = window.rows + 18.0
    for text in (
        "Flat, as it is sewn",
        f"{widths.along_mm:.1f} x {box[3] - box[1]:.1f} mm along the cap's curve: its true size",
        f"{widths.across_mm:.1f} mm straight across from edge to edge, as it is worn",
    ):
        for line in wrapped(text, rest, 24):
            draw_text(card, (row, 0), line, 24)
            row += 30
    return stacked([paper(30), side_by_side([left, card], apart_px=30), paper(30)])
