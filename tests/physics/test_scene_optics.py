"""The camera, the lens and the turned thread of scenes, against formulas."""

from __future__ import annotations

import dataclasses
from unittest.mock import patch

import numpy as np
import pytest
import samples
from numpy.typing import NDArray
from skimage.transform import ProjectiveTransform

from render.draw import lobes
from render.draw.cloth import ClothLayer
from render.draw.exposure import white_card_linear
from render.draw.shading import dyes_of
from render.draw.sheen import lamp_direction, sheen_table
from render.draw.shine import lamp_ring
from render.draw.stack import stack_strands
from render.draw.strands import strands_of
from render.draw.turned import Turned, draw_turned_layers
from render.materials.fibres import load_fibres
from render.model import Lamp, Light, Window
from render.scene.camera import Camera, confusion_px, see
from render.scene.lens import blurred
from render.scene.mesh import unrolled


def test_a_plane_is_seen_as_a_homography_of_scikit_image() -> None:
    """Four corners fix the homography; every other point of the plane must follow it within 0.05 px."""
    seen = see(Camera(85.0, 8.0, 240.0, (3.0, -5.0, 0.0), tilt_deg=38.0, turn_deg=-21.0), 1500, 2000)
    corners = np.array([[-90.0, -70.0], [110.0, -60.0], [95.0, 80.0], [-100.0, 75.0]])

    def at(points: NDArray[np.float64]) -> NDArray[np.float64]:
        return seen.project(np.concatenate([points, np.zeros((len(points), 1))], 1))[:, :2]

    law = ProjectiveTransform.from_estimate(corners, at(corners))
    points = np.random.default_rng(5).uniform(-120, 120, (300, 2))
    assert np.abs(law(points) - at(points)).max() < 0.05


def test_the_plane_of_focus_is_as_wide_as_asked() -> None:
    seen = see(Camera(100.0, 4.0, 60.0), 900, 1200)
    left, right = seen.project(np.array([[-30.0, 0.0, 0.0], [30.0, 0.0, 0.0]]))[:, 0]
    assert right - left == pytest.approx(1200, abs=1e-6)
    # 1 / f = 1 / object + 1 / image (Gauss); the image's size over the field's is image over object.
    image = seen.px / 1200 * 36.0
    assert pytest.approx(1 / seen.focus_mm + 1 / image) == 1 / 100.0


def test_circle_of_confusion_is_that_of_the_thin_lens() -> None:
    """By similar triangles on the sensor: the aperture's cone, cut where the sensor stands."""
    f, stop, field, cols = 100.0, 2.8, 80.0, 2000
    seen = see(Camera(f, stop, field), 1500, cols)
    sensor_at = 1 / (1 / f - 1 / seen.focus_mm)
    for depth in (0.6 * seen.focus_mm, 0.9 * seen.focus_mm, 1.5 * seen.focus_mm, 9000.0):
        image_at = 1 / (1 / f - 1 / depth)
        on_sensor = f / stop * abs(sensor_at - image_at) / image_at
        want = on_sensor / 36.0 * cols
        assert confusion_px(seen, np.array(depth)) == pytest.approx(want, rel=1e-9)


@pytest.mark.parametrize("diameter", [3.0, 6.0, 14.0, 40.0])
def test_a_point_spreads_over_its_circle(diameter: float) -> None:
    """A uniform disc of diameter D has a variance of D^2 / 16 along each axis; the pixel and the mean
    over reduced pictures add a little. All light is kept."""
    light = np.zeros((161, 161, 1), np.float32)
    light[80, 80] = 1.0
    spread = blurred(light, np.full((161, 161), diameter, np.float32))[..., 0]
    assert spread.sum() == pytest.approx(1.0, rel=0.02)
    offset = np.arange(161) - 80.0
    variance = float((spread.sum(0) * offset**2).sum() / spread.sum())
    assert 4 * np.sqrt(variance) == pytest.approx(diameter, rel=0.12, abs=0.5)


def test_what_is_sharp_keeps_its_edge_before_a_blurred_background() -> None:
    light = np.zeros((60, 80, 1), np.float32)
    light[:, :40] = 1.0
    circle = np.full((60, 80), -12.0, np.float32)
    circle[:, :40] = 0.0
    out = blurred(light, circle)[30, :, 0]
    assert out[:38].min() > 0.999
    # Nor does it glow over what is blurred behind it.
    assert out[42:].max() < 0.001


def test_a_cylinder_unrolls_to_its_arc() -> None:
    radius = 88.0
    turn = np.linspace(-1.2, 1.2, 481)
    points = np.stack(
        np.broadcast_arrays(radius * np.sin(turn), np.arange(5.0)[:, None], radius * np.cos(turn)), -1
    )
    uv = unrolled(points, 2, 240)
    np.testing.assert_allclose(uv[..., 0], np.broadcast_to(radius * turn, uv.shape[:2]), rtol=2e-5, atol=1e-9)
    np.testing.assert_allclose(uv[..., 1], np.broadcast_to(np.arange(5.0)[:, None] - 2, uv.shape[:2]))


ONE_LAMP = Light("one", "One lamp", (Lamp(225, 47, 12, 3.0, (1, 1, 1)),), (0.0, 0.0, 0.0))


def _no_cloth(
    _ground: object, _window: Window, rect: tuple[int, int, int, int], _wanted: object
) -> ClothLayer:
    return ClothLayer(np.zeros((*rect[2:], 3), np.float32), np.zeros(rect[2:], np.float32))


def _wheel(angle_deg: float, frame: NDArray[np.float64]) -> float:
    """Mean red light of a satin whose threads run at an angle, on a plane that stands so."""
    sewn = samples.sewn_of(samples.Part(samples.turned(samples.satin(8.0, 5.0), angle_deg - 90.0), "satin"))
    window = Window((0.0, 0.0), 20.0, 40, 40)
    job = dataclasses.replace(samples.JOB, light=ONE_LAMP)
    strands = strands_of(sewn, (samples.RED,), job)
    whole = np.tile(frame, (3, 3, 1)).astype(np.float32)
    surface = Turned(whole, np.zeros((3, 3), np.float32), np.ones((3, 3), np.bool_), (-20.0, -20.0), 20.0)
    with patch("render.draw.layers.lay_ground", _no_cloth):
        layers = draw_turned_layers(
            strands,
            stack_strands(strands),
            samples.level_ground(np.zeros(3)),
            thread_sets=[(samples.RED,)],
            lobes=load_fibres(),
            light=ONE_LAMP,
            window=window,
            surface=surface,
        )
    return float(layers.thread_linear[..., 0, 0].sum() / layers.covered.sum())


def _law(angle_deg: float, frame: NDArray[np.float64]) -> float:
    """The lobes of the formula for a bare level thread at this angle, dye and skin in the drawn share."""
    right, down, normal, view = frame[:12].reshape(4, 3)
    # Filaments run askew of the thread, as its twist lays them.
    along = np.deg2rad(angle_deg + load_fibres()["rayon"].lean_deg)
    axis = np.cos(along) * right + np.sin(along) * down
    shape = lobes.lobe_shape(load_fibres()["rayon"])
    norms = lobes.lobe_norms(load_fibres()["rayon"])
    fibres = load_fibres()
    (dye,) = dyes_of((samples.RED,), ["rayon"], [sheen_table(fibres["rayon"], ONE_LAMP)], fibres, ONE_LAMP)
    card, red = white_card_linear(ONE_LAMP)[0], float(dye[0])
    total = 0.0
    # Round threads show their sides, too: the mean over the roll of their surface.
    for roll in np.deg2rad(np.linspace(-50, 50, 11)):
        side = np.cross(axis, normal)
        face = np.cos(roll) * normal - np.sin(roll) * side
        for point in lamp_ring(lamp_direction(225, 47), 12):
            _, dyed, depth = lobes.reflected(
                shape, norms, tuple(axis), tuple(face), tuple(point), tuple(view)
            )
            total += dyed * red**depth * 3.0 / card / 33
    return total


@pytest.mark.slow
def test_an_angle_wheel_seen_at_45_degrees_changes_as_the_lobes_say() -> None:
    """The plane leans back by 45 degrees. Its sheen by thread angle follows the closed formula for
    tilted thread and tilted view, and not the curve of the same wheel seen from above."""
    level = np.array([1, 0, 0, 0, 1, 0, 0, 0, 1, 0, 0, 1, 1, 1], float)
    c = np.sqrt(0.5)
    leaning = np.array([1, 0, 0, 0, c, -c, 0, c, c, 0, 0, 1, 1, 1], float)
    angles = np.arange(0.0, 180.0, 22.5)
    drawn, flat, law = (
        np.array([one(a, f) for a in angles])
        for one, f in ((_wheel, leaning), (_wheel, level), (_law, leaning))
    )
    same = np.corrcoef(drawn, law)[0, 1]
    assert same > 0.98
    assert np.corrcoef(flat, law)[0, 1] < same - 0.05
    # And by nearly as much: light between threads, which the formula leaves out, lifts the darkest.
    assert drawn.max() / drawn.mean() == pytest.approx(law.max() / law.mean(), rel=0.3)
