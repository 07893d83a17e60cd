"""Colour: sRGB and linear light, CIE Lab, colours from text and plain words for colours.

Colours are sRGB in [0, 1] unless a name says otherwise.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

import numpy as np

from render.errors import InputError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Colour

# Linear sRGB to XYZ, and the D65 white it maps to: from the primaries and white of IEC 61966-2-1.
SRGB_TO_XYZ = np.array(
    [[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750], [0.0193339, 0.1191920, 0.9503041]]
)
D65_XYZ = SRGB_TO_XYZ.sum(axis=1)
# Hue angle in Lab (degrees) at which each plain hue word begins (estimate, by eye on screen).
_HUES = (
    (0.0, "pink"),
    (20.0, "red"),
    (46.0, "orange"),
    (74.0, "yellow"),
    (112.0, "green"),
    (166.0, "teal"),
    (224.0, "blue"),
    (309.0, "purple"),
    (340.0, "pink"),
)

# Lightness between which a hue word needs neither "dark" nor "light" (estimate, by eye on screen).
_USUAL = {
    "yellow": (75, 101),
    "pale yellow": (86, 101),
    "gold": (55, 81),
    "olive": (35, 70),
    "cream": (80, 101),
    "beige": (65, 101),
    "pink": (50, 90),
    "wine red": (14, 42),
    "coral": (55, 80),
    "brown": (25, 50),
    "orange": (58, 80),
    "green": (43, 70),
    "teal": (32, 72),
    "turquoise": (72, 92),
    "magenta": (40, 75),
}


def to_linear(srgb: NDArray[Any]) -> NDArray[np.float64]:
    """Linear light of sRGB values of any shape (IEC 61966-2-1)."""
    high = ((np.maximum(srgb, 0.04045) + 0.055) / 1.055) ** 2.4
    return np.asarray(np.where(srgb <= 0.04045, srgb / 12.92, high))


def to_srgb(linear: NDArray[Any]) -> NDArray[Any]:
    """sRGB of linear values of any shape (IEC 61966-2-1), clipped to [0, 1]."""
    inside = np.clip(linear, 0.0, 1.0)
    high = 1.055 * np.maximum(inside, 0.0031308) ** (1 / 2.4) - 0.055
    return np.asarray(np.where(inside <= 0.0031308, 12.92 * inside, high))


def to_lab(srgb: NDArray[Any]) -> NDArray[np.float64]:
    """CIE L*a*b* (D65) of sRGB values (..., 3) (CIE 15:2004)."""
    ratio = to_linear(srgb) @ SRGB_TO_XYZ.T / D65_XYZ
    low = ratio * (841 / 108) + 4 / 29
    f = np.where(ratio > (6 / 29) ** 3, np.cbrt(np.maximum(ratio, 1e-12)), low)
    x, y, z = f[..., 0], f[..., 1], f[..., 2]
    return np.stack([116 * y - 16, 500 * (x - y), 200 * (y - z)], axis=-1)


# Linear sRGB to cone responses, and their cube roots to Oklab (B. Ottosson, "A perceptual color space for
# image processing", 2020).
_TO_CONES = np.array(
    [
        [0.4122214708, 0.5363325363, 0.0514459929],
        [0.2119034982, 0.6806995451, 0.1073969566],
        [0.0883024619, 0.2817188376, 0.6299787005],
    ]
)
_TO_OKLAB = np.array(
    [
        [0.2104542553, 0.7936177850, -0.0040720468],
        [1.9779984951, -2.4285922050, 0.4505937099],
        [0.0259040371, 0.7827717662, -0.8086757660],
    ]
)


def to_oklab(linear: NDArray[Any]) -> NDArray[np.float64]:
    """Oklab of linear light (..., 3), inside sRGB or beyond: even in hue, which Lab bends in blue."""
    return np.asarray(np.cbrt(linear @ _TO_CONES.T) @ _TO_OKLAB.T)


def from_oklab(lab: NDArray[Any]) -> NDArray[np.float64]:
    """Linear light of Oklab values (..., 3), not clipped."""
    return np.asarray((lab @ np.linalg.inv(_TO_OKLAB).T) ** 3 @ np.linalg.inv(_TO_CONES).T)


def from_lab(lab: NDArray[Any]) -> NDArray[np.float64]:
    """sRGB of L*a*b* (D65) values (..., 3), clipped to what sRGB can show."""
    y = (lab[..., 0] + 16) / 116
    f = np.stack([y + lab[..., 1] / 500, y, y - lab[..., 2] / 200], axis=-1)
    ratio = np.where(f > 6 / 29, f**3, (f - 4 / 29) * (108 / 841))
    return np.asarray(to_srgb((ratio * D65_XYZ) @ np.linalg.inv(SRGB_TO_XYZ).T))


def ciede2000(one_lab: NDArray[Any], other_lab: NDArray[Any]) -> NDArray[np.float64]:
    """CIEDE2000 colour difference of L*a*b* values (..., 3) (Sharma, Wu & Dalal 2005)."""
    (l1, a1, b1), (l2, a2, b2) = (
        np.moveaxis(np.asarray(lab, np.float64), -1, 0) for lab in (one_lab, other_lab)
    )
    mean7 = ((np.hypot(a1, b1) + np.hypot(a2, b2)) / 2) ** 7
    stretch = 1.5 - 0.5 * np.sqrt(mean7 / (mean7 + 25.0**7))
    c1, c2 = np.hypot(stretch * a1, b1), np.hypot(stretch * a2, b2)
    h1 = np.degrees(np.arctan2(b1, stretch * a1)) % 360
    h2 = np.degrees(np.arctan2(b2, stretch * a2)) % 360
    grey = c1 * c2 == 0
    turn = np.where(grey, 0.0, (h2 - h1 + 180) % 360 - 180)
    # Opposite hues: the formula's own choice of side.
    turn = np.where(np.abs(h2 - h1) == 180, h2 - h1, turn)
    dl, dc, dh = l2 - l1, c2 - c1, 2 * np.sqrt(c1 * c2) * np.sin(np.radians(turn) / 2)
    far = np.abs(h1 - h2) > 180
    hue = np.where(grey, h1 + h2, (h1 + h2) / 2 + np.where(far, np.where(h1 + h2 < 360, 180, -180), 0))
    light, chroma = (l1 + l2) / 2, (c1 + c2) / 2
    t = 1 - 0.17 * np.cos(np.radians(hue - 30)) + 0.24 * np.cos(np.radians(2 * hue))
    t += 0.32 * np.cos(np.radians(3 * hue + 6)) - 0.20 * np.cos(np.radians(4 * hue - 63))
    sl = 1 + 0.015 * (light - 50) ** 2 / np.sqrt(20 + (light - 50) ** 2)
    sc, sh = 1 + 0.045 * chroma, 1 + 0.015 * chroma * t
    rc = 2 * np.sqrt(chroma**7 / (chroma**7 + 25.0**7))
    rt = -np.sin(np.radians(60 * np.exp(-(((hue - 275) / 25) ** 2)))) * rc
    parts = dl / sl, dc / sc, dh / sh
    return np.asarray(np.sqrt(parts[0] ** 2 + parts[1] ** 2 + parts[2] ** 2 + rt * parts[1] * parts[2]))


def parse_colour(text: str) -> Colour:
    """A colour from `#rgb`, `#rrggbb`, a CSS colour name or `lab(L a b)` (D65).

    Raises InputError when it is none of these.
    """
    from PIL import ImageColor

    plain = text.strip().lower()
    lab = re.fullmatch(r"lab\(\s*([^\s,()]+)[\s,]+([^\s,()]+)[\s,]+([^\s,()]+)\s*\)", plain)
    try:
        if lab:
            values = np.array([float(part) for part in (lab[1].removesuffix("%"), lab[2], lab[3])])
            if not np.isfinite(values).all() or not 0 <= values[0] <= 100 or np.abs(values[1:]).max() > 160:
                raise ValueError
            red, green, blue = from_lab(values)
            return float(red), float(green), float(blue)
        if not re.fullmatch(r"#[0-9a-f]{3}|#[0-9a-f]{6}|[a-z]+", plain):
            raise ValueError
        red, green, blue = ImageColor.getrgb(plain)[:3]
    except ValueError:
        raise InputError(
            f"{text[:40]!r} is no colour: write #rrggbb, a CSS name such as navy, or lab(30 5 -30)"
        ) from None
    return red / 255, green / 255, blue / 255


def hex_colour(colour_srgb: Colour) -> str:
    """`#rrggbb`."""
    return "#" + "".join(f"{round(255 * min(max(part, 0.0), 1.0)):02x}" for part in colour_srgb)


def colour_words(colour_srgb: Colour) -> str:
    """Plain words for a colour, such as "dark blue" or "warm grey", from its Lab values."""
    lightness, a, b = (float(v) for v in to_lab(np.array(colour_srgb)))
    chroma, hue = float(np.hypot(a, b)), float(np.degrees(np.arctan2(b, a)) % 360)
    cream = lightness >= 86 and chroma >= 8 and 55 <= hue < 112
    if chroma < 6 or (chroma < 10 and lightness > 97):
        return _grey_words(lightness)
    if chroma < 14 and lightness < 92 and not cream:
        tint = "green" if 100 <= hue < 170 else "cool" if 170 <= hue < 330 else "warm"
        return _grey_words(lightness).replace("grey", f"{tint} grey")
    word = _hue_word(lightness, chroma, hue)
    low, high = _USUAL.get(word, (32, 65))
    return f"dark {word}" if lightness < low else word if lightness < high else f"light {word}"


def _hue_word(lightness: float, chroma: float, hue: float) -> str:
    """The word for a hue, which also depends on how light and how strong it is: a dark
    orange is called brown, a pale one beige (thresholds: estimate, by eye on screen)."""
    word = next(name for start, name in reversed(_HUES) if hue >= start)
    if word in ("orange", "yellow") and chroma < 35:
        if lightness >= 86 and hue >= 99 and chroma >= 15:
            return "pale yellow"
        if lightness < 65:
            return "olive" if hue >= 100 else "brown"
        return "cream" if lightness >= 86 else "beige"
    if word in ("red", "orange", "yellow") and 35 < hue < 95 and lightness < 48 and chroma < 50:
        return "brown"
    if 50 < hue < 85 and lightness < 66 and chroma < 58:
        return "brown"
    if word == "yellow" and lightness < 80:
        return "gold" if hue < 95 else "olive"
    if word == "red" and lightness >= 61:
        return "pink" if lightness > 85 or chroma < 35 else "coral"
    if word == "pink" and lightness < 42:
        return "purple" if 180 < hue < 350 else "wine red"
    if word == "purple" and chroma > 85 and hue > 320:
        return "magenta"
    if word == "blue" and hue > 297 and lightness > 38 and chroma < 90:
        return "purple"
    if word == "teal" and lightness >= 72:
        return "blue" if hue > 200 and chroma < 20 else "turquoise"
    return word


def _grey_words(lightness: float) -> str:
    for limit, word in ((12, "black"), (35, "dark grey"), (65, "grey"), (93, "light grey")):
        if lightness < limit:
            return word
    return "white"
