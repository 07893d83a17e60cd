"""Where a design goes on a garment: a simple drawing of our own, after the order's own words."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from render.materials.presets import preset
from render.proof.typesetting import INK

if TYPE_CHECKING:
    from collections.abc import Iterable

    from render.model import Colour
    from render.proof.account import ProofAccount
    from render.proof.customer_page import PageInput
    from render.proof.typesetting import Sheets

    Step = tuple[str, tuple[float, ...]]


@dataclass(frozen=True, slots=True)
class Placement:
    """A garment's outline and seams as SVG paths of absolute M, L, C and Z, and the middle of the
    design on it, mm, x right, y down as one looks at it."""

    garment: str
    outline: str
    seams: tuple[str, ...]
    at_mm: tuple[float, float]


def placement_of(account: ProofAccount) -> Placement | None:
    """What the order's words for garment and placement mean; None where they name nothing we can draw."""
    garments = preset("garments.toml")
    worn, where = account.order.garment.lower(), account.order.placement.lower()
    found = next((one for one in garments["garment"] if _any(one["words"], worn)), None)
    if found is None and account.cloth.cap:
        found = next(one for one in garments["garment"] if one["name"] == "cap")
    if found is None:
        return None
    places = found["place"]
    part = _part(garments, where) or places.get("usual")
    if part not in places:
        return None
    seams = found["back" if part in ("back", "upper-back", "nape") else "front"]
    return Placement(found["name"], found["outline"], tuple(seams), tuple(places[part]))


def _part(garments: dict[str, Any], where: str) -> str | None:
    """The part of a garment that words mean, such as `left-chest`."""
    part = next((name for name, words in garments["part"].items() if _any(words, where)), None)
    side = next((name for name, words in garments["side"].items() if _any(words, where)), None)
    if part == "back" and _any(garments["upper"]["words"], where):
        return "upper-back"
    if part == "sleeve":
        return f"{side or 'left'}-sleeve"
    return f"{side}-chest" if part == "chest" and side else part


def _any(words: Iterable[str], text: str) -> bool:
    """Whether a word of the text begins with any of the words; Han is written without spaces."""
    return any(
        re.search(rf"(?<![^\W_]){re.escape(word)}" if word.isascii() else re.escape(word), text)
        for word in words
    )


def draw_placement(
    sheets: Sheets, place: Placement, given: PageInput, x: float, y: float, width: float, height: float
) -> None:
    """The garment in its own colour with the design on it, within a box; all at one scale."""
    paths = [place.outline, *place.seams]
    points = [point for path in paths for _, numbers in _steps(path) for point in _pairs(numbers)]
    left, right = min(p[0] for p in points), max(p[0] for p in points)
    top, bottom = min(p[1] for p in points), max(p[1] for p in points)
    scale = min(width / (right - left), height / (bottom - top))
    origin = x + (width - (right - left) * scale) / 2 - left * scale, y - top * scale
    alt = given.words.say("picture", "placement_alt", placement=given.account.order.placement)
    with sheets.tagged("Figure", alt=alt):
        sheets.shape(_moved(place.outline, origin, scale), fill=given.cloth_srgb, ink=INK, line_mm=0.3)
        dark = sum(given.cloth_srgb) < 1.2
        for seam in place.seams:
            ink: Colour = (0.75, 0.76, 0.78) if dark else (0.45, 0.46, 0.48)
            sheets.shape(_moved(seam, origin, scale), fill=None, ink=ink, line_mm=0.18)
        wide, high = given.size_mm[0] * scale, given.size_mm[1] * scale
        middle = origin[0] + place.at_mm[0] * scale, origin[1] + place.at_mm[1] * scale
        sheets.image(given.picture, middle[0] - wide / 2, middle[1] - high / 2, wide, high)


def _steps(path: str) -> list[Step]:
    """The commands of a path with their numbers."""
    return [
        (command, tuple(float(one) for one in numbers.split()))
        for command, numbers in re.findall(r"([MLCZ])([^MLCZ]*)", path)
    ]


def _pairs(numbers: tuple[float, ...]) -> list[tuple[float, float]]:
    return list(zip(numbers[::2], numbers[1::2], strict=True))


def _moved(path: str, origin: tuple[float, float], scale: float) -> list[Step]:
    """The path on the page, mm."""
    return [
        (command, tuple(origin[at % 2] + one * scale for at, one in enumerate(numbers)))
        for command, numbers in _steps(path)
    ]
