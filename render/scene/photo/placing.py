"""Where on a photograph the design lies: by four corners, or by two points so many mm apart.

```toml
# written by --save-place, used by --place
corners_px = [[812, 640], [1460, 668], [1441, 1302], [798, 1275]]  # top left and on, clockwise
corners_mm = [90, 90]          # of what has these corners; without it, the design itself

# or, seen squarely:
points_px = [[700, 400], [1500, 410]]
distance_mm = 240           # how far apart the two points are on the garment
centre_px = [1210, 905]     # where the middle of the design lies
turn_deg = -2

cylinder_mm = 88            # radius of a cap or sleeve that is upright in the design; may be left out
light_azimuth_deg = 225     # where the light comes from: 0 right, 90 bottom; estimated if left out
folds = true                # follow the photo's own folds
```

Pixels count from the top left corner of the photograph as it is seen, x to the right, y down.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from render.errors import InputError
from render.materials.own_file import OPTIONS, check_keys, named, number, read_toml, shown

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Floats

    Point = tuple[float, float]

_KEYS = (
    "corners_px",
    "corners_mm",
    "points_px",
    "distance_mm",
    "centre_px",
    "turn_deg",
    "cylinder_mm",
    "light_azimuth_deg",
    "folds",
)
FARTHEST_PX = 1e6
CYLINDER_MM = (10.0, 5000.0)  # least and largest radius


@dataclass(frozen=True, slots=True)
class Place:
    """Where the design lies, as its file has it; either corners or two points."""

    corners_px: tuple[Point, ...] = ()
    corners_mm: Point | None = None
    points_px: tuple[Point, ...] = ()
    distance_mm: float | None = None
    centre_px: Point | None = None
    turn_deg: float = 0.0
    cylinder_mm: float | None = None
    light_azimuth_deg: float | None = None
    folds: bool = False


def load_place(path: str) -> Place:
    """A placement file. Raises InputError."""
    facts = read_toml(path, "placement")
    check_keys(facts, _KEYS, path)
    return place_of(facts, path)


def place_of(facts: dict[str, Any], place: str) -> Place:
    """A placement from its values, checked. Raises InputError."""
    corners = _points(facts, "corners_px", 4, place)
    points = _points(facts, "points_px", 2, place)
    if bool(corners) == bool(points):
        either = "four corners_px or two points_px with their distance_mm"
        if place == OPTIONS:
            either = "--corners, or --points with --distance-mm"
        raise InputError(f"{place}: give either {either}")
    folds = facts.get("folds", False)
    if not isinstance(folds, bool):
        raise InputError(f"{named(place, 'folds')} must be true or false, not {shown(folds)}")
    made = Place(
        corners,
        _pair(facts, "corners_mm", place, 1.0, 2000.0),
        points,
        number(facts, "distance_mm", place, 1.0, 5000.0) if points else None,
        _pair(facts, "centre_px", place, -FARTHEST_PX, FARTHEST_PX),
        number({"turn_deg": 0.0, **facts}, "turn_deg", place, -360, 360),
        number(facts, "cylinder_mm", place, *CYLINDER_MM) if "cylinder_mm" in facts else None,
        number(facts, "light_azimuth_deg", place, -360, 360) if "light_azimuth_deg" in facts else None,
        folds,
    )
    if corners:
        _check_corners(np.array(corners), place)
    elif math.dist(*made.points_px) < 4.0:
        raise InputError(
            f"{named(place, 'points_px')}: the two are hardly apart: choose two far from each other"
        )
    return made


def place_text(place: Place) -> str:
    """The placement as its file."""
    lines, usual = [], Place()
    for key in _KEYS:
        value = getattr(place, key)
        if value == getattr(usual, key):
            continue
        if isinstance(value, bool):
            text = str(value).lower()
        elif isinstance(value, tuple):
            rows = [value] if isinstance(value[0], float) else value
            text = ", ".join(f"[{a:.10g}, {b:.10g}]" for a, b in rows)
            text = text if isinstance(value[0], float) else f"[{text}]"
        else:
            text = f"{value:.10g}"
        lines.append(f"{key} = {text}\n")
    return "".join(lines)


def homography(place: Place, design_mm: Point) -> NDArray[np.float64]:
    """From mm about the middle of the design, lying flat, to pixels (3, 3).

    On a cylinder this is the plane through the design's left and right edge.
    """
    if place.corners_px:
        wide, high = place.corners_mm or design_mm
        if place.cylinder_mm is not None:
            wide = 2 * place.cylinder_mm * float(np.sin(min(wide / 2 / place.cylinder_mm, np.pi / 2)))
        box = np.array([[-wide, -high], [wide, -high], [wide, high], [-wide, high]]) / 2
        return four_point_homography(box, np.array(place.corners_px))
    first, last = (np.array(point) for point in place.points_px)
    assert place.distance_mm is not None
    scale = float(np.hypot(*(last - first))) / place.distance_mm
    centre = np.array(place.centre_px) if place.centre_px is not None else (first + last) / 2
    c, s = scale * np.cos(np.deg2rad(place.turn_deg)), scale * np.sin(np.deg2rad(place.turn_deg))
    return np.array([[c, -s, centre[0]], [s, c, centre[1]], [0.0, 0.0, 1.0]])


def four_point_homography(start: Floats, end: Floats) -> NDArray[np.float64]:
    """The plane projection (3, 3) that takes four points (4, 2) to four others (Hartley & Zisserman,
    Multiple View Geometry, 2nd ed., 4.1: the direct linear transform)."""
    rows = []
    for (x, y), (u, v) in zip(start, end, strict=True):
        rows.append([x, y, 1, 0, 0, 0, -u * x, -u * y])
        rows.append([0, 0, 0, x, y, 1, -v * x, -v * y])
    solved = np.linalg.solve(np.array(rows, float), np.asarray(end, float).ravel())
    return np.append(solved, 1.0).reshape(3, 3)


def _check_corners(corners: NDArray[np.float64], place: str) -> None:
    """Refuse corners that no rectangle can have: every turn must go the same way, clockwise."""
    run = np.roll(corners, -1, axis=0) - corners
    after = np.roll(run, -1, axis=0)
    turns = run[:, 0] * after[:, 1] - run[:, 1] * after[:, 0]
    if not (turns > 16.0).all():
        raise InputError(
            f"{named(place, 'corners_px')} must go round clockwise from the top left, as a rectangle is seen"
        )


def _points(facts: dict[str, Any], key: str, count: int, place: str) -> tuple[Point, ...]:
    value = facts.get(key)
    if value is None:
        return ()
    if not isinstance(value, list) or len(value) != count:
        raise InputError(
            f"{named(place, key)} must be {count} points such as {[812, 640]}, not {shown(value)}"
        )
    return tuple(_pair_of(one, named(place, key), -FARTHEST_PX, FARTHEST_PX) for one in value)


def _pair(facts: dict[str, Any], key: str, place: str, low: float, high: float) -> Point | None:
    return _pair_of(facts[key], named(place, key), low, high) if key in facts else None


def _pair_of(value: object, place: str, low: float, high: float) -> Point:
    if not isinstance(value, list | tuple) or len(value) != 2:
        raise InputError(f"{place}: write two numbers such as [812, 640], not {shown(value)}")
    pair = dict(zip("xy", value, strict=True))
    return number(pair, "x", place, low, high), number(pair, "y", place, low, high)
