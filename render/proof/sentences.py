"""Sentences that the printed pages and the page for a screen share: the picture, and what to know of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from render.proof.account import ProofAccount
    from render.proof.wording import Words

TOLERANCE_MM, TOLERANCE_PERCENT = 1.5, 3  # common practice, no source: of a sewn size


def alt_text(account: ProofAccount, words: Words) -> str:
    """The picture in words."""
    cloth = words.known("fabric", account.cloth.fabric, account.cloth.fabric_title)
    size = words.mm(account.width_mm), words.mm(account.height_mm)
    return words.say("picture", "alt", name=account.name, width=size[0], height=size[1], cloth=cloth)


def remark_lines(account: ProofAccount, words: Words) -> list[str]:
    """What a customer should know, in sentences."""
    lines = []
    for one in account.remarks:
        size = "" if one.size_mm is None else words.mm(one.size_mm)
        lines.append(words.say("remark", one.words, size=size))
    return lines or [words.say("remark", "none")]


def cautions(words: Words) -> str:
    """What a calculated picture on paper cannot promise."""
    tolerance = words.say(
        "text", "tolerance", mm=words.mm(TOLERANCE_MM), percent=words.number(TOLERANCE_PERCENT)
    )
    return f"{words.say('text', 'simulated')} {tolerance}"
