"""A film on top of pile carries small stitching: whether there is one, and advice to lay one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from render.materials.groups import group_of

if TYPE_CHECKING:
    from render.inspect.piece import Piece


def has_topping(piece: Piece) -> bool:
    """Whether the cloth has pile and a topping lies on it."""
    return _pile(piece) and piece.job.topped


def topping_helps(piece: Piece) -> str:
    """Advice to end a remedy with: empty where a topping would not help, or is laid already."""
    return ", and lay a topping on the pile" if _pile(piece) and not has_topping(piece) else ""


def _pile(piece: Piece) -> bool:
    return group_of(piece.job.fabric) == "pile"
