"""What the modules here declare: their checks, kinds of problem and limits."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from render.modules import modules_in

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from render.inspect.piece import Piece
    from render.model import Limit, Problem, ProblemKind


def checks() -> tuple[Callable[[Piece], Iterable[Problem]], ...]:
    """Everything that is looked for: `CHECKS`."""
    return tuple(check for module in modules_in("render.inspect") for check in getattr(module, "CHECKS", ()))


def kinds() -> dict[str, ProblemKind]:
    """Everything that may be found, by name: `KINDS`."""
    return _declared("KINDS")


def limits() -> dict[str, Limit]:
    """From where on the checks speak up, by name: `LIMITS`."""
    return _declared("LIMITS")


def _declared(what: str) -> dict[str, Any]:
    return {
        name: one
        for module in modules_in("render.inspect")
        for name, one in getattr(module, what, {}).items()
    }
