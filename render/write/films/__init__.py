"""Formats of films, one module each, which bears the name of their ending: it has a `FORMAT`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from pathlib import Path

    import numpy as np
    from numpy.typing import NDArray

    Pixels = NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class Shape:
    """Pixels across and down, frames a second, and how often it plays: 0 is for ever (GIF, APNG)."""

    cols: int
    rows: int
    fps: float
    plays: int = 0


class Writer(Protocol):
    """Takes the frames of a film (rows, cols, 3) uint8 sRGB in turn; closed at last, also after a fault."""

    def add(self, pixels: Pixels) -> None:
        """Take the next frame."""

    def finish(self) -> None:
        """End the film: no frame follows."""

    def close(self) -> None:
        """Let go of the file."""


def _nothing() -> None:
    """What a format needs that is complete in itself."""


@dataclass(frozen=True, slots=True)
class FilmFormat:
    """What it is called, and what makes a writer of the file that is still to be made.

    A writer is made with pictures from which it may take the colours of the whole film. `even_sides` is
    for formats with halved colours; `check` raises UsageError where what writes them is not installed.
    """

    title: str
    writer: Callable[[Path, Shape, Iterable[Pixels]], Writer]
    usual_fps: float = 30.0
    most_fps: float = 120.0
    even_sides: bool = False
    check: Callable[[], object] = _nothing

    def sides(self, cols: int, rows: int) -> tuple[int, int]:
        """The size, one pixel more where sides have to be even."""
        return (cols + cols % 2, rows + rows % 2) if self.even_sides else (cols, rows)
