"""What is laid over the frames: a caption, and a small needle with its shadow."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.compose.lettering import draw_text, text_width_px

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.animation.timeline import Moment
    from render.model import Colour, SewPlan, Window

    Pixels = NDArray[np.uint8]

CARD: Colour = (0.97, 0.965, 0.95)
CARD_SHARE = 0.86
DOT_EDGE: Colour = (0.55, 0.55, 0.54)
DOING = {
    "start": "about to sew",
    "jump": "jump, thread not cut",
    "trim": "trim",
    "colour-change": "colour change",
    "stop": "stop for a hand",
    "sewn": "sewn, as it comes off the machine",
    "clip": "loose thread is clipped",
    "release": "out of the hoop",
    "hold": "finished",
}


def caption_band_px(size_px: tuple[int, int]) -> int:
    """How much of a frame of so many columns and rows a caption takes, at its foot."""
    height, pad = _letters_px(*size_px)
    return round(2.6 * height) + 4 * pad


def _letters_px(cols: int, rows: int) -> tuple[int, int]:
    """Height of the letters and the room around them."""
    height = max(round(min(cols, rows) * 0.030), 14)
    return height, round(height * 0.6)


def caption_of(moment: Moment, plan: SewPlan) -> tuple[str, str]:
    """Two lines: what happens, and how far the machine has come."""
    total, sewn = len(plan.start_mm), moment.stitches
    block = int(plan.colour_block[min(max(sewn - 1, 0) if moment.doing != "sew" else sewn, total - 1)])
    colour = f"colour {block + 1} of {len(plan.blocks)}"
    if moment.doing == "colour-change":
        colour = f"to colour {min(block + 2, len(plan.blocks))} of {len(plan.blocks)}"
    what = DOING.get(moment.doing, "")
    minutes, seconds = divmod(int(moment.machine_s), 60)
    return (
        f"{what[:1].upper()}{what[1:]} · {colour}" if what else colour[:1].upper() + colour[1:],
        f"stitch {sewn:,} of {total:,} · {minutes}:{seconds:02d} at the machine",
    )


def draw_caption(pixels: Pixels, moment: Moment, plan: SewPlan, colours_srgb: tuple[Colour, ...]) -> None:
    """A card in the lower left corner with a dot in the colour of the thread."""
    rows, cols = pixels.shape[:2]
    height, pad = _letters_px(cols, rows)
    lines = caption_of(moment, plan)
    # As wide as the longest caption, so that it does not jump about.
    widest = ("Sewn, as it comes off the machine · colour 88 of 88", lines[1], lines[0])
    wide = round(max(text_width_px(text, height, bold=True) for text in widest)) + 4 * pad
    top, left = rows - round(2.6 * height) - 3 * pad, pad
    part = pixels[top : rows - pad, left : min(left + wide, cols - pad)]
    part[:] = np.rint(part + CARD_SHARE * (np.array(CARD) * 255.0 - part))
    block = int(plan.colour_block[min(moment.stitches, len(plan.start_mm) - 1)])
    dot = (top + pad + 0.55 * height, left + 1.3 * pad)
    _fill_disc(pixels, dot, 0.36 * height + 1.0, DOT_EDGE)  # or a light thread would not be seen on the card
    _fill_disc(pixels, dot, 0.36 * height, colours_srgb[block])
    draw_text(pixels, (top + pad, left + 2.6 * pad), lines[0], height, bold=True)
    draw_text(pixels, (top + pad + 1.3 * height, left + 2.6 * pad), lines[1], height)


def _fill_disc(pixels: Pixels, centre_px: tuple[float, float], radius_px: float, colour: Colour) -> None:
    def outside(row: NDArray[np.float64], col: NDArray[np.float64]) -> NDArray[np.float64]:
        away: NDArray[np.float64] = np.hypot(row - centre_px[0], col - centre_px[1]) - radius_px
        return away

    box = (
        centre_px[0] - radius_px,
        centre_px[1] - radius_px,
        centre_px[0] + radius_px,
        centre_px[1] + radius_px,
    )
    place, row, col = _around(pixels, box)
    share = np.clip(0.5 - outside(row, col), 0.0, 1.0)
    _blend(pixels, place, share, np.array(colour) * 255.0)


def _around(
    pixels: Pixels, box: tuple[float, float, float, float]
) -> tuple[tuple[slice, slice], NDArray[np.float64], NDArray[np.float64]]:
    """The part of a picture around a box, and the rows and columns of its pixels' middles."""
    rows, cols = pixels.shape[:2]
    top, left = max(int(box[0]) - 2, 0), max(int(box[1]) - 2, 0)
    bottom, right = max(min(int(box[2]) + 3, rows), top), max(min(int(box[3]) + 3, cols), left)
    row, col = np.arange(top, bottom)[:, None] + 0.5, np.arange(left, right)[None, :] + 0.5
    return (slice(top, bottom), slice(left, right)), row, col


def _blend(pixels: Pixels, place: tuple[slice, slice], share: NDArray[np.float64], colour: object) -> None:
    part = pixels[place]
    pixels[place] = np.rint(part + share[..., None] * (np.asarray(colour) - part)).astype(np.uint8)


# The needle: a blade of 0.75 mm (size 75, ISO 8755: hundredths of a mm), seen a little from the front.
BLADE_MM, SHANK_MM, POINT_MM, SHOWN_MM = 0.75, 1.6, 2.2, 13.0
LEAN = (-0.93, 0.36)  # rows, columns along the needle upwards, as it is drawn
LIFT_MM = 4.0
STEEL_DARK, STEEL_BRIGHT = np.array([74.0, 78.0, 86.0]), np.array([238.0, 240.0, 244.0])
SHADOW_SHARE = 0.42


def draw_needle(
    pixels: Pixels,
    point_mm: tuple[float, float],
    lifted: float,
    window: Window,
    towards_light: tuple[float, float],
) -> None:
    """A needle whose point is at a place of the cloth, or above it by the share `lifted` of its stroke.

    `towards_light` is the light's direction on the cloth, x and y; the shadow falls the other way
    and meets the point where that is in the cloth.
    """
    scale = max(window.px_per_mm, 5.0)  # no needle is smaller than can be seen
    col = (point_mm[0] - window.centre_mm[0]) * window.px_per_mm + window.cols / 2
    row = (point_mm[1] - window.centre_mm[1]) * window.px_per_mm + window.rows / 2
    rise = lifted * LIFT_MM * scale
    ground = np.array([row, col])
    light = np.array([towards_light[1], towards_light[0]])
    away = -light / max(float(np.hypot(*light)), 1e-9)
    point = ground + rise * np.array(LEAN) * 0.8
    _shaft(pixels, ground + away * rise * 0.6, away, scale, shadow=True)
    _shaft(pixels, point, np.array(LEAN), scale, shadow=False)


def _shaft(
    pixels: Pixels, point: NDArray[np.float64], way: NDArray[np.float64], scale: float, *, shadow: bool
) -> None:
    length = SHOWN_MM * scale * (0.75 if shadow else 1.0)
    end = point + way * length
    reach = SHANK_MM * scale
    box = (
        min(point[0], end[0]) - reach,
        min(point[1], end[1]) - reach,
        max(point[0], end[0]) + reach,
        max(point[1], end[1]) + reach,
    )
    place, row, col = _around(pixels, box)
    along = (row - point[0]) * way[0] + (col - point[1]) * way[1]
    across = -(row - point[0]) * way[1] + (col - point[1]) * way[0]
    t = along / scale
    # A slender point, the blade, a shoulder, the shank.
    tip = BLADE_MM * np.sqrt(np.clip(t / POINT_MM, 0.0, 1.0))
    shoulder = np.clip((t - 0.62 * SHOWN_MM) / 1.2, 0.0, 1.0)
    half = 0.5 * scale * (tip + shoulder * (SHANK_MM - BLADE_MM))
    soft = 1.0 + (0.12 * np.maximum(t, 0.0) * scale if shadow else 0.0)
    inside = np.clip(0.5 + (half - np.abs(across)) / soft, 0.0, 1.0) * np.clip(along + 0.5, 0.0, 1.0)
    # It fades out upwards, out of the picture's focus.
    fade = np.clip((length - along) / (0.45 * length), 0.0, 1.0)
    if shadow:
        _blend(pixels, place, inside * fade * SHADOW_SHARE, np.zeros(3))
        return
    v = np.clip(across / np.maximum(half, 1e-6), -1.0, 1.0)
    shine = np.exp(-(((v + 0.35) / 0.28) ** 2)) + 0.25 * np.exp(-(((v - 0.6) / 0.25) ** 2))
    colour = STEEL_DARK + np.clip(shine, 0.0, 1.0)[..., None] * (STEEL_BRIGHT - STEEL_DARK)
    eye = np.hypot((t - 2.6) / 0.75, across / scale / 0.14) < 1.0
    colour = np.where(eye[..., None], 28.0, colour)
    _blend(pixels, place, inside * fade, colour)
