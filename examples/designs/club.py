"""What the club's designs share: threads, and figures drawn once in mm about the origin."""

from __future__ import annotations

import numpy as np

from digitize.fill import fill
from digitize.parts import Part, Points, as_points
from digitize.satin import satin, satin_blob, satin_path
from digitize.sewing import Thread
from digitize.shapes import mirrored, smooth

SKY = Thread("sky", "#8fbfd0")
NAVY = Thread("navy", "#14284b")
GOLD = Thread("gold", "#d3a03a")
RED = Thread("oar red", "#b3322c")
CREAM = Thread("cream", "#f3e9d2")
BROWN = Thread("otter brown", "#6f4528")

OAR_FOOT = as_points([-14.6, 15.0])[0]  # of the oar that leans to the right
OAR_HEAD = as_points([20.4, -14.4])[0]


def on_oar(along_mm: float, across_mm: float = 0.0) -> tuple[float, float]:
    """A place on the right-leaning oar: mm from its foot, and mm to the right of it."""
    ahead = (OAR_HEAD - OAR_FOOT) / np.hypot(*(OAR_HEAD - OAR_FOOT))
    x, y = OAR_FOOT + along_mm * ahead + across_mm * np.array([-ahead[1], ahead[0]])
    return float(x), float(y)


def sides(points: Points) -> tuple[Points, Points]:
    """A figure on the right and its mirror image."""
    return points, mirrored(points)


def both(parts_of_side: list[list[Part]]) -> list[Part]:
    """The parts of both sides as one list."""
    return [part for parts in parts_of_side for part in parts]


def wave(y_mm: float, reach_mm: float, width_mm: float, phase: float = 0.0) -> list[Part]:
    """A satin wave across, tapered at both ends."""
    x = np.linspace(-reach_mm, reach_mm, 121)
    path = np.column_stack([x, y_mm - 0.95 * np.cos(2 * np.pi * (x / 9.0 + phase))])
    taper = np.clip((reach_mm - np.abs(x)) / 5.0, 0.0, 1.0) ** 0.6
    return satin_path(path, 0.7 + (width_mm - 0.7) * taper, spacing_mm=0.44)


def lozenge(x_mm: float, y_mm: float, width_mm: float, height_mm: float) -> list[Part]:
    """A small satin diamond with its stitches across."""
    rise = np.linspace(-1, 1, 13)
    half = np.maximum(1 - np.abs(rise), 0.12) * width_mm / 2
    y = y_mm + rise * height_mm / 2
    return satin(np.column_stack([x_mm - half, y]), np.column_stack([x_mm + half, y]))


def dot(x_mm: float, y_mm: float, width_mm: float, height_mm: float | None = None) -> list[Part]:
    """A small satin oval, sewn from its top to its foot."""
    turn = np.linspace(-np.pi / 2, 1.5 * np.pi, 49)
    outline = np.column_stack([np.cos(turn) * width_mm / 2, np.sin(turn) * (height_mm or width_mm) / 2])
    return satin_blob(outline + (x_mm, y_mm))


def blade() -> Points:
    """Outline of the right-leaning oar's blade, from its neck round."""
    half = [(34.4, 0.7), (35.6, 1.4), (37.5, 2.3), (40.0, 2.7), (42.6, 2.7), (44.4, 2.3), (45.0, 1.2)]
    edge = [on_oar(*p) for p in half] + [on_oar(45.1)] + [on_oar(a, -w) for a, w in half[::-1]]
    return smooth(edge, closed=True)


def oar_blade_deg() -> float:
    """Direction of the right-leaning oar."""
    dx, dy = OAR_HEAD - OAR_FOOT
    return float(np.degrees(np.arctan2(dy, dx)))


def filled_sides(outline: Points, angle_deg: float) -> list[list[Part]]:
    """The same fill on the right and mirrored on the left, its angle mirrored too."""
    right, left = sides(outline)
    return [fill([right], angle_deg=angle_deg), fill([left], angle_deg=-angle_deg)]
