"""Which way text runs, and where a line of it may be broken, in scripts with and without spaces."""

from __future__ import annotations

import unicodedata

FROM_RIGHT = ("R", "AL")  # classes of signs that run from right to left (Unicode Annex 9)


def runs_from_right(text: str) -> bool:
    """Whether the first sign with a direction runs from right to left."""
    kinds = (unicodedata.bidirectional(sign) for sign in text)
    return next((kind for kind in kinds if kind in ("L", *FROM_RIGHT)), "L") in FROM_RIGHT


def clusters(text: str) -> list[str]:
    """Signs with the marks and joiners that belong to them."""
    found: list[str] = []
    for sign in text:
        joined = found and (
            unicodedata.category(sign).startswith("M") or sign in "\u200c\u200d" or found[-1][-1] == "\u200d"
        )
        if joined:
            found[-1] += sign
        else:
            found.append(sign)
    return found


def units_of(row: str) -> list[str]:
    """What a line may be broken between: words with the space after them, and single Han or kana signs."""
    units: list[str] = []
    for cluster in clusters(row):
        broken = not units or units[-1][-1] == " " or _wide(cluster) or _wide(units[-1][-1])
        if broken and not (units and _closes(cluster)):
            units.append(cluster)
        else:
            units[-1] += cluster
    return units


def _wide(cluster: str) -> bool:
    """Han, kana and full-width forms; Hangul is written with spaces."""
    return unicodedata.east_asian_width(cluster[0]) in "WF" and not "\uac00" <= cluster[0] <= "\ud7a3"


def _closes(cluster: str) -> bool:
    """Whether a sign must not start a line."""
    return (
        cluster[0] == " "
        or unicodedata.category(cluster[0]) in ("Pe", "Pf")
        or cluster[0] in "、。，．：；！？"
    )
