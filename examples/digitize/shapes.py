"""Outlines and paths in mm: circles, smooth curves, resampling, offsets."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from digitize.parts import Points, as_points


def along(path: Points) -> Points:
    """Distance in mm from the start of `path (N, 2)` to each of its points, (N,)."""
    return np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])


def at(path: Points, fractions: Points) -> Points:
    """Points of `path (N, 2)` at `fractions (M,)` of its length, (M, 2)."""
    way = along(path)
    return np.column_stack([np.interp(fractions * way[-1], way, path[:, axis]) for axis in (0, 1)])


def resample(path: Sequence[Any] | Points, step_mm: float) -> Points:
    """`path` in even steps of at most `step_mm`, both ends kept."""
    points = as_points(path)
    return at(points, np.linspace(0, 1, max(2, int(np.ceil(along(points)[-1] / step_mm - 1e-6)) + 1)))


def circle(radius_mm: float, centre: tuple[float, float] = (0.0, 0.0), *, start_deg: float = 0.0) -> Points:
    """A closed circle (181, 2); the first point is repeated at the end."""
    turn = np.radians(start_deg + np.linspace(0.0, 360.0, 181))
    return np.column_stack([np.cos(turn), np.sin(turn)]) * radius_mm + centre


def smooth(points: Sequence[Any] | Points, *, closed: bool = False, per_span: int = 12) -> Points:
    """A curve through all points (Catmull-Rom, uniform); closed curves repeat the first point."""
    knots = as_points(points)
    if closed:
        padded = np.concatenate([knots[-1:], knots, knots[:2]])
    else:
        padded = np.concatenate([2 * knots[:1] - knots[1:2], knots, 2 * knots[-1:] - knots[-2:-1]])
    p0, p1, p2, p3 = (padded[i : len(padded) - 3 + i, None] for i in range(4))
    t = np.linspace(0, 1, per_span, endpoint=False)[None, :, None]
    spans = 0.5 * (
        2 * p1 + (p2 - p0) * t + (2 * p0 - 5 * p1 + 4 * p2 - p3) * t**2 + (3 * p1 - p0 - 3 * p2 + p3) * t**3
    )
    return np.concatenate([spans.reshape(-1, 2), padded[-2][None]])


def mirrored(points: Sequence[Any] | Points) -> Points:
    """The other side of the axis x = 0, in the opposite order."""
    return as_points(points)[::-1] * (-1.0, 1.0)


def symmetric(right_half: Sequence[Any] | Points) -> Points:
    """A smooth closed outline from its right half, given from top to bottom on the axis."""
    half = as_points(right_half)
    return smooth(np.concatenate([half, mirrored(half)[1:-1]]), closed=True)


def offset(path: Points, distance_mm: float) -> Points:
    """`path` moved sideways: positive to the right of its way as seen on the cloth.

    Meant for distances well below the path's radius of curvature.
    """
    closed = bool(np.allclose(path[0], path[-1]))
    padded = np.concatenate([path[-2:-1] if closed else path[:1], path, path[1:2] if closed else path[-1:]])
    ahead = padded[2:] - padded[:-2]
    ahead /= np.maximum(np.hypot(*ahead.T), 1e-12)[:, None]
    return path + distance_mm * np.column_stack([-ahead[:, 1], ahead[:, 0]])


def turned(points: Points, angle_deg: float) -> Points:
    """Rotated about the origin, from +x towards +y."""
    c, s = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))
    return as_points(points @ np.array([[c, s], [-s, c]]))
