"""Which of the fonts that come with the program a text needs: Noto Sans, then one a script."""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

REGULAR, BOLD = "NotoSans-Regular", "NotoSans-Bold"
# Looked through in this order for what Noto Sans lacks; the large ones last.
OTHERS = (
    "NotoSansArabic-Regular",
    "NotoSansHebrew-Regular",
    "NotoSansDevanagari-Regular",
    "NotoSansThai-Regular",
    "NotoSansTamil-Regular",
    "NotoSansGurmukhi-Regular",
    "NotoSansArmenian-Regular",
    "NotoSansGeorgian-Regular",
    "NotoSansLao-Regular",
    "NotoSansKhmer-Regular",
    "NotoSansMalayalam-Regular",
    "NotoSansKannada-Regular",
    "NotoSansTelugu-Regular",
    "NotoSansBengali-Regular",
    "NotoSansGujarati-Regular",
    "NotoSansMyanmar-Regular",
    "NotoSansSinhala-Regular",
    "NotoSansEthiopic-Regular",
    "TwillightHan",
    "TwillightHangul",
)


def font_path(name: str) -> str:
    """The file of a font that comes with the program."""
    return str(files("render.fonts") / f"{name}.ttf")


def fonts_for(texts: Iterable[str]) -> tuple[str, ...]:
    """Names of the fonts besides Noto Sans that have the signs of the texts, in the order of `OTHERS`."""
    missing = {ord(sign) for text in texts for sign in text} - _covered(REGULAR)
    needed = []
    for name in OTHERS:
        found = missing & _covered(name) if missing else set()
        if found:
            needed.append(name)
            missing -= found
    return tuple(needed)


def signs_of(fonts: Iterable[str]) -> frozenset[int]:
    """The code points that Noto Sans or any of the fonts has a glyph for, and joiners."""
    return _covered(REGULAR).union({0x0A, 0x200C, 0x200D}, *(_covered(name) for name in fonts))


@cache
def _covered(name: str) -> frozenset[int]:
    """The code points that a font has a glyph for."""
    from fontTools.ttLib import TTFont

    with TTFont(font_path(name), lazy=True) as font:
        return frozenset(font.getBestCmap())
