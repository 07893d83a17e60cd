"""What the club's designs share: threads, steps, and figures drawn at any size."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from digitize.fill import fill
from digitize.lettering import letters_on_arc
from digitize.parts import Part, Points, as_points, moved
from digitize.running import bean
from digitize.satin import satin, satin_blob, satin_path
from digitize.sewing import Sewing, Thread

SKY = Thread("sky", "#8fbfd0")
NAVY = Thread("navy", "#14284b")
GOLD = Thread("gold", "#d3a03a")
RED = Thread("oar red", "#b3322c")
CREAM = Thread("cream", "#f3e9d2")
BROWN = Thread("otter brown", "#6f4528")


@dataclass(frozen=True, slots=True)
class Step:
    """One object of a design: its name, thread and parts, and whether the thread is cut before it."""

    name: str
    thread: Thread
    parts: list[Part]
    cut: bool = True


def sew(steps: Iterable[Step]) -> Sewing:
    """Sew the steps, changing thread where the next one needs it."""
    sewing = Sewing()
    for step in steps:
        if not sewing.threads or sewing.threads[-1] != step.thread:
            sewing.thread(step.thread)
        sewing.sew(step.name, step.parts, cut=step.cut)
    sewing.finish()
    return sewing


@dataclass(frozen=True, slots=True)
class Pen:
    """Draws figures given in a design's own mm at another size and place.

    Only outlines grow with `scale`: stitch lengths and spacings stay what a needle needs.
    `fill_deg`, if given, turns every fill to that one angle. Grounds, which are large and
    lie under other objects, may have longer stitches than fills that are looked at.
    """

    scale: float = 1.0
    x_mm: float = 0.0
    y_mm: float = 0.0
    fill_deg: float | None = None
    row_spacing_mm: float = 0.4
    stitch_mm: float = 4.0
    ground_stitch_mm: float = 4.8

    def on_cloth(self, points: Sequence[Any] | Points) -> Points:
        """Points where they are sewn."""
        return as_points(points) * self.scale + (self.x_mm, self.y_mm)

    def fill(
        self, contours: Sequence[Sequence[Any] | Points], angle_deg: float, *, stitch_mm: float | None = None
    ) -> list[Part]:
        """A fill with its underlay."""
        return fill(
            [self.on_cloth(contour) for contour in contours],
            angle_deg=angle_deg if self.fill_deg is None else self.fill_deg,
            row_spacing_mm=self.row_spacing_mm,
            stitch_mm=stitch_mm or self.stitch_mm,
        )

    def ground(self, contours: Sequence[Sequence[Any] | Points], angle_deg: float) -> list[Part]:
        """A large fill that other objects are sewn on."""
        return self.fill(contours, angle_deg, stitch_mm=self.ground_stitch_mm)

    def satin(self, left: Sequence[Any] | Points, right: Sequence[Any] | Points, **how: Any) -> list[Part]:
        """A satin column between two rails."""
        return satin(self.on_cloth(left), self.on_cloth(right), **how)

    def satin_path(self, path: Sequence[Any] | Points, width_mm: float | Points, **how: Any) -> list[Part]:
        """A satin column along a centre line."""
        return satin_path(self.on_cloth(path), np.multiply(width_mm, self.scale), **how)

    def bean(self, path: Sequence[Any] | Points, stitch_mm: float) -> list[Part]:
        """A bean line; its stitches do not grow."""
        return bean(self.on_cloth(path), stitch_mm)

    def oval(self, x_mm: float, y_mm: float, width_mm: float, height_mm: float | None = None) -> list[Part]:
        """A satin oval, sewn from its top to its foot."""
        turn = np.linspace(-np.pi / 2, 1.5 * np.pi, 49)
        half = np.array([width_mm, height_mm or width_mm]) / 2
        outline = np.column_stack([np.cos(turn), np.sin(turn)]) * half + (x_mm, y_mm)
        return satin_blob(self.on_cloth(outline))

    def lozenge(self, x_mm: float, y_mm: float, width_mm: float, height_mm: float) -> list[Part]:
        """A satin diamond with its stitches across."""
        rise = np.linspace(-1, 1, 13)
        half = np.maximum(1 - np.abs(rise), 0.12) * width_mm / 2
        y = y_mm + rise * height_mm / 2
        return self.satin(np.column_stack([x_mm - half, y]), np.column_stack([x_mm + half, y]))

    def wave(self, y_mm: float, reach_mm: float, width_mm: float, side: int = 0) -> list[Part]:
        """A satin wave across, tapered at both ends; from the middle to one `side` (-1 or 1) if wished."""
        x = np.linspace(-reach_mm if not side else -0.3 * side, reach_mm * (side or 1), 121)
        path = np.column_stack([x, y_mm - 0.95 * np.cos(2 * np.pi * x / 9.0)])
        taper = np.clip((reach_mm - np.abs(x)) / 5.0, 0.0, 1.0) ** 0.6
        return self.satin_path(path, 0.7 + (width_mm - 0.7) * taper, spacing_mm=0.44)

    def arc_text(self, text: str, thread: Thread, **where: float) -> list[Step]:
        """A step a letter; lengths as for `letters_on_arc`, about the pen's place."""
        grown = {key: value * self.scale if key.endswith("_mm") else value for key, value in where.items()}
        letters = letters_on_arc(text, **grown)
        chars = text.replace(" ", "")
        return [
            Step(f"letter {char}", thread, moved(parts, self.x_mm, self.y_mm))
            for char, parts in zip(chars, letters, strict=True)
        ]
