"""Where the needle goes on a test piece, record by record."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.model import Command, Design

if TYPE_CHECKING:
    from render.model import Floats

TIE_MM, RUN_MM = 0.8, 2.0
UNIT_MM = 0.1


class Needle:
    """Where the needle goes, record by record, in units of 0.1 mm; and the lines on the way."""

    def __init__(self) -> None:
        self.records: list[tuple[int, int, Command]] = []
        self.lines_mm: list[Floats] = []
        self.stitches = 0

    @property
    def here_mm(self) -> Floats:
        """Where the needle is (2,)."""
        x, y, _ = self.records[-1]
        return np.array([x, y]) * UNIT_MM

    def cut(self) -> None:
        """Tie off and cut."""
        if self.records:
            x, y, _ = self.records[-2]
            self.tie(np.array([x, y]) * UNIT_MM)
            self.records.append((*self.records[-1][:2], Command.TRIM))

    def cut_to_run(self, corners: Floats) -> None:
        """Cut, and run along other corners after a tie."""
        self.cut()
        x, y = units(corners[0])
        self.records += [(x, y, Command.JUMP), (x, y, Command.STITCH)]
        self.tie(corners[1])
        self.run(corners[1:])
        self.lines_mm.append(corners)

    def run(self, corners: Floats) -> None:
        """Even running stitches from corner to corner, from where the needle is."""
        for corner in corners:
            here = self.here_mm
            count = max(1, int(np.ceil(np.hypot(*(corner - here)) / RUN_MM - 1e-6)))
            self.sew(here + (corner - here) * (np.arange(1, count + 1) / count)[:, None])

    def tie(self, towards: Floats) -> None:
        """Two small stitches out and back, towards a point."""
        here = self.here_mm
        step = (towards - here) / np.hypot(*(towards - here)) * TIE_MM
        self.sew(np.array([here + step, here]))

    def sew(self, points: Floats) -> None:
        """Needle points (N, 2), mm; one where the needle is already is left out."""
        for point in points:
            x, y = units(point)
            if (x, y) != self.records[-1][:2]:
                self.records.append((x, y, Command.STITCH))
                self.stitches += 1

    def design(self, name: str) -> Design:
        """All that was recorded, in one colour."""
        records = np.array(self.records)
        return Design(
            name=name,
            format=name,
            xy_mm=records[:, :2] * UNIT_MM,
            command=records[:, 2].astype(np.uint8),
            colours_srgb=(None,),
            trim_rule="explicit",
            long_stitches_split=False,
            sha256="",
        )


def units(point: Floats) -> tuple[int, int]:
    """Rounded half up, so that even steps stay even."""
    x, y = np.floor(np.asarray(point) / UNIT_MM + 0.5 + 1e-6)
    return int(x), int(y)
