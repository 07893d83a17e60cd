"""Letters too low for the thread they are sewn with. `small-lettering`: height of the letters, mm."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from render.inspect.places import box_of_points
from render.model import HIDDEN_KINDS, Limit, Problem, ProblemKind

if TYPE_CHECKING:
    from collections.abc import Iterator

    from render.inspect.piece import Piece
    from render.model import Floats

LETTER_KINDS = ("satin", "running", "bean")
LEAST_LETTERS = 3
LEAST_STITCHES = 5
ALIKE = (0.6, 1.7)  # of the row's middle height, as letters of one word have
WIDEST_STROKE = 0.45  # of the height: more is no letter
WIDEST = 2.0  # of the height, a W
BENT, LEAST_BENT = 0.15, 0.3  # spread across a letter to that along it; share of the letters
LEVEL_RAD = 0.35  # lines that slope by less are level
FURTHEST = 2.5  # heights between the middles of neighbouring letters


@dataclass(frozen=True, slots=True, eq=False)
class _Letter:
    """What might be a letter: first and last stitch, needle points (N, 2), mm."""

    first: int
    last: int
    points: Floats

    @property
    def height(self) -> float:
        """Its extent down, mm."""
        return float(np.ptp(self.points[:, 1]))

    @property
    def width(self) -> float:
        """Its extent across, mm."""
        return float(np.ptp(self.points[:, 0]))


def small_lettering(piece: Piece) -> Iterator[Problem]:
    """Words whose letters are lower than is legible, one problem a word."""
    letters = _letters(piece)
    word: list[_Letter] = []
    for one in [*letters, None]:
        if one is not None and word and _belongs(word, one, piece):
            word.append(one)
            continue
        if len(word) >= LEAST_LETTERS:
            yield from _judge(piece, word)
        word = [] if one is None else [one]


def _letters(piece: Piece) -> list[_Letter]:
    """What might be letters, in sewing order.

    A letter is what is sewn between two places where the thread breaks, of satin or runs only.
    """
    plan = piece.plan
    starts = np.flatnonzero(plan.thread_breaks)
    found = []
    for first, after in zip(starts, np.append(starts[1:], len(plan.start_mm)), strict=True):
        parts = [plan.objects[i] for i in np.unique(plan.object_index[first:after])]
        seen = [part for part in parts if part.kind not in HIDDEN_KINDS]
        # The short stitches of the smallest letters look like ties.
        if not seen and after - first < LEAST_STITCHES:
            continue
        if any(part.kind not in LETTER_KINDS for part in seen):
            continue
        points = np.concatenate([plan.start_mm[first:after], plan.end_mm[first:after]])
        stroke = max((part.width_mm for part in seen if part.kind == "satin"), default=0.0)
        one = _Letter(int(first), int(after) - 1, points)
        high, wide = one.height, one.width
        if high > 0 and wide <= WIDEST * high and stroke <= WIDEST_STROKE * max(high, wide):
            found.append(one)
    return found


def _belongs(word: list[_Letter], one: _Letter, piece: Piece) -> bool:
    """Whether a letter stands in the row that has been sewn so far."""
    last = word[-1]
    block = piece.plan.colour_block
    if block[last.first] != block[one.first]:
        return False
    middle = float(np.median([letter.height for letter in word]))
    if not ALIKE[0] * middle <= one.height <= ALIKE[1] * middle:
        return False
    way = one.points.mean(0) - last.points.mean(0)
    return bool(np.hypot(*way) <= FURTHEST * middle + one.width / 2)


def _heights(word: list[_Letter]) -> list[float]:
    """Heights across the line on which the letters stand, which may turn from letter to letter."""
    middle = np.array([(letter.points.min(0) + letter.points.max(0)) / 2 for letter in word])
    heights = []
    for i, letter in enumerate(word):
        ahead = middle[min(i + 2, len(word) - 1)] - middle[max(i - 2, 0)]
        angle = (np.arctan2(ahead[1], ahead[0]) + np.pi / 2) % np.pi - np.pi / 2
        # Low and high letters side by side are no slope.
        up = (0.0, 1.0) if abs(angle) < LEVEL_RAD else (-np.sin(angle), np.cos(angle))
        heights.append(float(np.ptp(letter.points @ up)))
    return heights


def _bent_share(piece: Piece, word: list[_Letter]) -> float:
    """Share of the letters that are more than one straight stroke: bars in a row spell nothing."""
    bent = []
    for letter in word:
        own = slice(letter.first, letter.last + 1)
        middle = (piece.plan.start_mm[own] + piece.plan.end_mm[own]) / 2
        off = middle - middle.mean(0)
        across, along = np.sqrt(np.maximum(np.linalg.eigvalsh(off.T @ off), 0.0))
        bent.append(across > BENT * along)
    return float(np.mean(bent))


def _judge(piece: Piece, word: list[_Letter]) -> Iterator[Problem]:
    height = float(np.median(_heights(word)))
    block = int(piece.plan.colour_block[word[0].first])
    limits = piece.limits[block]
    if height >= limits["letter_check_mm"] - 0.05 or _bent_share(piece, word) < LEAST_BENT:
        return
    where, box = box_of_points(np.concatenate([letter.points for letter in word]))
    first, last = word[0].first, word[-1].last
    yield Problem(
        kind="small-lettering",
        severity="fix" if height < limits["letter_fix_mm"] else "check",
        where_mm=where,
        box_mm=box,
        size_mm=height,
        objects=tuple(int(index) for index in np.unique(piece.plan.object_index[first : last + 1])),
        stitches=(first, last),
        colour_block=block,
        cause=(
            f"{len(word)} letters of {height:.1f} mm: in {piece.threads[block].tex:.0f} tex thread they "
            "close up and cannot be read"
        ),
        remedy=f"make them {limits['letter_check_mm']:.0f} mm high or more, or sew them in a finer thread",
    )


CHECKS = (small_lettering,)
KINDS = {"small-lettering": ProblemKind(remark="small_letters", smallest=True)}
LIMITS = {
    "letter_check_mm": Limit(
        4.0, "letters lower than this fill in", {"pile": 6.0, "fine": 3.0, "coarse": 6.0}
    ),
    "letter_fix_mm": Limit(
        3.0, "and lower than this cannot be read", {"pile": 4.0, "fine": 2.2, "coarse": 4.5}
    ),
}
