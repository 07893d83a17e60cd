"""True size, measured in the finished picture; and what colours share."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
import samples
from numpy.typing import NDArray
from scipy.ndimage import center_of_mass, label

from render.materials.fabrics import load_fabric
from render.materials.job import make_job
from render.preview import SewnDesign
from render.scene import picture
from render.scene.beside import curve_widths
from render.scene.camera import Camera
from render.scene.cap import SIDE_MM
from render.scene.frame import Frame, set_up
from render.scene.garments import garment
from render.scene.mesh import Material, Part, unrolled
from render.scene.picture import draw_scene
from render.scene.sets import Colouring
from render.scene.setting import Setting

APART_MM, RADIUS_MM = 40.0, 60.0


def _ready() -> SewnDesign:
    """Two short upright satin columns whose middles are 40 mm apart."""
    bar = samples.turned(samples.satin(6.0, 3.0), 90.0)
    left, right = bar - [APART_MM / 2, 0.0], bar + [APART_MM / 2, 0.0]
    sewn = samples.sewn_of(samples.Part(left, "satin"), samples.Part(right, "satin"))
    return SewnDesign(sewn, (samples.RED,), None, ())


def _picture(
    points: NDArray[np.float64], uv: NDArray[np.float64], field_mm: float, tilt: float
) -> NDArray[np.uint8]:
    part = Part(points, uv, Material("job"), sewn=True)
    camera = Camera(90.0, 0.0, field_mm, tilt_deg=tilt)
    setting = Setting("test", (part,), camera, "jersey", (0.2, 0.3, 0.5), (1, 1, 1), (99, 99))
    job = dataclasses.replace(make_job(finish="cleaned"), fabric=load_fabric("jersey"))
    colouring = Colouring("", (samples.RED,), setting.colour_srgb, setting.trim_srgb)
    (picture,) = draw_scene(_ready(), job, set_up(setting, job, Frame(240, 640, vignette=0.0)), [colouring])
    return picture.pixels


def _bars(pixels: NDArray[np.uint8]) -> NDArray[np.float64]:
    """Middles (column, row) of the two red bars, from the middle of the picture."""
    red = pixels[..., 0].astype(int) - pixels[..., 2] > 40
    found, _ = label(red)
    sizes = np.bincount(found.ravel())[1:]
    largest = 1 + np.argsort(sizes)[-2:]
    middles = np.array(sorted(center_of_mass(red, found, largest), key=lambda at: at[1]))
    return middles[:, ::-1] + 0.5 - np.array([pixels.shape[1] / 2, pixels.shape[0] / 2])


@pytest.mark.parametrize("tilt", [0.0, 35.0])
def test_a_flat_piece_has_its_size_in_the_plane_of_focus(tilt: float) -> None:
    x, y = np.linspace(-60, 60, 90), np.linspace(-40, 40, 60)
    points = np.dstack([*np.meshgrid(x, y), np.zeros((60, 90))])
    bars = _bars(_picture(points, points[..., :2].copy(), 80.0, tilt))
    seen_mm = (bars[1, 0] - bars[0, 0]) * 80.0 / 640
    assert seen_mm == pytest.approx(APART_MM, rel=0.01)


def test_on_a_curve_the_size_is_along_the_curve() -> None:
    """Seen by a pinhole from a known distance; the arc between the bars by the closed form."""
    turn = np.linspace(-0.8, 0.8, 161)
    y = np.linspace(-30, 30, 60)
    points = np.stack(
        np.broadcast_arrays(RADIUS_MM * np.sin(turn), y[:, None], RADIUS_MM * (np.cos(turn) - 1.0)), -1
    )
    field = 80.0
    bars = _bars(_picture(points, unrolled(points, 30, 80), field, 0.0))
    distance = 90.0 * (1 + field / 36.0)
    slopes = (bars[:, 0] * field / 640) / distance
    # A ray x = slope (distance - z) meets the circle x = R sin a, z = R (cos a - 1).
    angle = []
    for slope in slopes:
        low, high = -0.8, 0.8
        for _ in range(60):
            middle = (low + high) / 2
            over = RADIUS_MM * np.sin(middle) - slope * (distance - RADIUS_MM * (np.cos(middle) - 1.0))
            low, high = (low, middle) if over > 0 else (middle, high)
        angle.append(middle)
    assert RADIUS_MM * (angle[1] - angle[0]) == pytest.approx(APART_MM, rel=0.01)


def test_widths_of_a_worn_design_are_arc_and_chord() -> None:
    """On a cylinder the chord of an arc s is 2 R sin(s / 2R)."""
    turn = np.linspace(-0.8, 0.8, 161)
    y = np.linspace(-30, 30, 60)
    points = np.stack(np.broadcast_arrays(RADIUS_MM * np.sin(turn), y[:, None], RADIUS_MM * np.cos(turn)), -1)
    part = Part(points, unrolled(points, 30, 80), Material("job"), sewn=True)
    setting = Setting("test", (part,), Camera(90, 0, 80), "jersey", (0, 0, 0), (0, 0, 0), (99, 99))
    widths = curve_widths(setting, 60.0)
    assert widths.along_mm == 60.0
    assert widths.across_mm == pytest.approx(2 * RADIUS_MM * np.sin(60.0 / 2 / RADIUS_MM), rel=1e-3)


@pytest.mark.slow
def test_colours_drawn_together_are_those_drawn_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    x, y = np.linspace(-60, 60, 60), np.linspace(-40, 40, 40)
    points = np.dstack([*np.meshgrid(x, y), np.zeros((40, 60))])
    part = Part(points, points[..., :2].copy(), Material("job"), sewn=True)
    setting = Setting("test", (part,), Camera(90, 0, 80), "jersey", (0.2, 0.3, 0.5), (1, 1, 1), (99, 99))
    job = dataclasses.replace(make_job(finish="cleaned"), fabric=load_fabric("jersey"))
    sets = [
        Colouring("one", (samples.RED,), (0.2, 0.3, 0.5), (1, 1, 1)),
        Colouring("two", (samples.GOLD,), (0.8, 0.8, 0.7), (1, 1, 1)),
    ]
    prepared = set_up(setting, job, Frame(120, 320))
    together = draw_scene(_ready(), job, prepared, sets)
    for which, one in enumerate(sets):
        (alone,) = draw_scene(_ready(), job, prepared, [one])
        np.testing.assert_array_equal(alone.pixels, together[which].pixels)
    # So many sets that memory holds few at a time are drawn in groups.
    monkeypatch.setattr(picture, "MOST_LIGHT", 3 * 120 * 320)
    grouped = draw_scene(_ready(), job, prepared, sets)
    np.testing.assert_array_equal(grouped[1].pixels, together[1].pixels)


def test_a_design_wider_than_the_cap_is_seen_as_wide_as_that() -> None:
    assert 100.0 < curve_widths(garment("cap-front", (900.0, 40.0)), 900.0).across_mm < 2 * SIDE_MM
