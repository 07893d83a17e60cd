"""Words that others wrote, made fit to show: on a page or a screen they are text and nothing else."""

from __future__ import annotations

import unicodedata

LONGEST = 4000  # signs; an order that says more belongs in a letter
# Joiners that Indic and Arabic spelling needs; all other signs without a shape are left out.
_KEPT = "\u200c\u200d"
_UNSEEN = ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")


def shown_text(text: str, *, lines: bool = False) -> str:
    """Text without control signs, and without those that turn the direction of what follows.

    Composed as most fonts have it (NFC), spaces run together, on one line unless `lines`; cut
    off with an ellipsis after 4000 signs. Markup stays as it stands: whoever shows it escapes it.
    """
    broken = text[: 2 * LONGEST].replace("\r\n", "\n").replace("\r", "\n") if lines else text[: 2 * LONGEST]
    kept = "".join(_sign(one, lines=lines) for one in unicodedata.normalize("NFC", broken))
    rows = [" ".join(row.split()) for row in kept.split("\n")]
    whole = "\n".join(rows).strip()
    return whole if len(whole) <= LONGEST else whole[: LONGEST - 1].rstrip() + "…"


def _sign(one: str, *, lines: bool) -> str:
    if one == "\n" and lines:
        return one
    return " " if unicodedata.category(one) in _UNSEEN and one not in _KEPT else one
