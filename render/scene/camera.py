"""A real camera: focal length, stop, sensor and where it stands.

Space is millimetres, x right, y down, z towards the viewer, as the lights have it. The camera
looks at its target and is focused there: the target's plane is seen at `field_mm` across.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Floats

SENSOR_LONG_MM = 36.0  # the long side of the sensor is along the picture's long side


@dataclass(frozen=True, slots=True)
class Camera:
    """`tilt_deg` lowers the camera towards +y and `turn_deg` moves it to the right, both around
    the target; at 0 it looks straight down the z axis. `field_mm` is the picture's width in the
    plane of focus. A `f_number` of 0 is a pinhole: all is sharp."""

    focal_mm: float
    f_number: float
    field_mm: float
    target_mm: tuple[float, float, float] = (0.0, 0.0, 0.0)
    tilt_deg: float = 0.0
    turn_deg: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """A camera with its picture of `rows` x `cols` pixels.

    `axes (3, 3)`: right, down and backwards, unit vectors; `eye_mm` the centre of the lens;
    `px` pixels of image a unit of slope; `focus_mm` the distance that is sharp; `blur_px` the
    diameter in pixels of the circle of confusion at infinity.
    """

    axes: NDArray[np.float64]
    eye_mm: NDArray[np.float64]
    px: float
    focus_mm: float
    blur_px: float
    rows: int
    cols: int

    def project(self, points_mm: Floats) -> NDArray[np.float64]:
        """Column, row and depth in mm (..., 3) of points (..., 3); pixel centres at halves."""
        place = (points_mm - self.eye_mm) @ self.axes.T
        depth = -place[..., 2]
        col = self.cols / 2 + self.px * place[..., 0] / depth
        row = self.rows / 2 + self.px * place[..., 1] / depth
        return np.stack([col, row, depth], axis=-1)


def see(camera: Camera, rows: int, cols: int) -> Seen:
    """Set the camera up by the thin lens law 1 / f = 1 / distance + 1 / image distance."""
    sensor = SENSOR_LONG_MM * min(1.0, cols / rows)
    f = camera.focal_mm
    focus = f * (1.0 + camera.field_mm / sensor)
    image = f * focus / (focus - f)
    st, ct = np.sin(np.deg2rad(camera.tilt_deg)), np.cos(np.deg2rad(camera.tilt_deg))
    su, cu = np.sin(np.deg2rad(camera.turn_deg)), np.cos(np.deg2rad(camera.turn_deg))
    back = np.array([su * ct, st, cu * ct])
    axes = np.array([[cu, 0.0, -su], [-su * st, ct, -cu * st], back])
    aperture = f / camera.f_number if camera.f_number > 0 else 0.0
    return Seen(
        axes,
        np.array(camera.target_mm) + focus * back,
        image * cols / sensor,
        focus,
        aperture * f / (focus - f) * cols / sensor,
        rows,
        cols,
    )


def confusion_px(seen: Seen, depth_mm: Floats) -> NDArray[np.float64]:
    """Diameter of the circle of confusion at depths, pixels: A f / (s - f) |d - s| / d."""
    return np.asarray(seen.blur_px * np.abs(depth_mm - seen.focus_mm) / depth_mm)
