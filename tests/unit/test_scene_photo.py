"""The design on a shop's own photo: placed to a fraction of a pixel, matched in light, blur and grain.

Every photograph here is made up by the test itself.
"""

from __future__ import annotations

from pathlib import Path

import blanks
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image
from scipy.ndimage import gaussian_filter
from skimage.transform import ProjectiveTransform

from render.cli import run
from render.errors import InputError
from render.materials.lights import load_light
from render.scene.gather import SUB
from render.scene.photo import SLIP_MM, OnPhoto, photo_stage, pose
from render.scene.photo.matching import Look, blur_px, grain, light_azimuth_deg, look_of
from render.scene.photo.placing import (
    Place,
    four_point_homography,
    homography,
    load_place,
    place_of,
    place_text,
)
from render.scene.photo.reading import Photo

BADGE = str(Path(__file__).parents[2] / "examples" / "cap-badge.dst")
CORNERS = [[120.0, 90.0], [318.0, 104.0], [305.0, 262.0], [110.0, 240.0]]


# --- placing


def test_four_corners_give_the_homography_of_scikit_image() -> None:
    law = homography(place_of({"corners_px": CORNERS, "corners_mm": [90, 70]}, "here"), (50.0, 50.0))
    box = np.array([[-45.0, -35.0], [45.0, -35.0], [45.0, 35.0], [-45.0, 35.0]])
    theirs = ProjectiveTransform.from_estimate(box, np.array(CORNERS))
    points = np.random.default_rng(2).uniform(-60, 60, (400, 2))
    ours = np.concatenate([points, np.ones((400, 1))], 1) @ law.T
    assert np.abs(ours[:, :2] / ours[:, 2:] - theirs(points)).max() < 0.05


def test_two_points_of_known_distance_give_true_size() -> None:
    place = place_of(
        {"points_px": [[100, 100], [340, 280]], "distance_mm": 60, "centre_px": [200, 150]}, "here"
    )
    law = homography(place, (50.0, 40.0))
    ends = np.array([[-30.0, 0.0, 1.0], [30.0, 0.0, 1.0]]) @ law.T
    # The two points are 300 px apart: 5 pixels a millimetre.
    assert np.hypot(*(ends[1] - ends[0])[:2]) == pytest.approx(300.0)
    assert ends.mean(0)[:2] == pytest.approx([200.0, 150.0])


def test_the_pose_of_a_plane_is_found_again() -> None:
    """A plane turned and tilted by known angles, seen by a camera of known focal length."""
    a, b = np.deg2rad(28.0), np.deg2rad(-17.0)
    turn = np.array([[np.cos(a), 0, np.sin(a)], [0, 1, 0], [-np.sin(a), 0, np.cos(a)]])
    tilt = np.array([[1, 0, 0], [0, np.cos(b), -np.sin(b)], [0, np.sin(b), np.cos(b)]])
    axes = turn @ tilt
    camera = np.array([[900.0, 0, 400.0], [0, 900.0, 300.0], [0, 0, 1.0]])
    law = camera @ np.stack([axes[:, 0], axes[:, 1], [12.0, -8.0, 640.0]], 1) * 0.37
    found, scale = pose(law, 900.0, (400.0, 300.0))
    assert scale == pytest.approx(0.37)
    np.testing.assert_allclose(found[0], axes[:, 0], atol=1e-9)
    np.testing.assert_allclose(found[1], axes[:, 1], atol=1e-9)
    np.testing.assert_allclose(found[2], -axes[:, 2], atol=1e-9)


def test_a_placement_file_holds_what_it_was_given(tmp_path: Path) -> None:
    place = place_of(
        {
            "corners_px": CORNERS,
            "corners_mm": [80, 60.5],
            "cylinder_mm": 88,
            "folds": True,
            "light_azimuth_deg": 200,
        },
        "here",
    )
    (tmp_path / "cap.toml").write_text(place_text(place))
    assert load_place(str(tmp_path / "cap.toml")) == place
    two = place_of({"points_px": [[1, 2], [300, 4]], "distance_mm": 99.5, "turn_deg": -3}, "here")
    (tmp_path / "two.toml").write_text(place_text(two))
    assert load_place(str(tmp_path / "two.toml")) == two


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        ({}, "either four corners_px or two points_px"),
        ({"corners_px": CORNERS[::-1]}, "clockwise"),
        ({"corners_px": [*CORNERS[:3], CORNERS[1]]}, "clockwise"),
        ({"corners_px": CORNERS[:3]}, "must be 4 points"),
        ({"points_px": [[1, 1], [2, 2]], "distance_mm": 5}, "hardly apart"),
        ({"points_px": [[1, 1], [200, 2]]}, "distance_mm"),
        ({"corners_px": CORNERS, "cylinder_mm": 1}, "cylinder_mm"),
        ({"corners_px": CORNERS, "folds": 1}, "true or false"),
        ({"corners_px": CORNERS, "colour": "red"}, "not known here"),
    ],
)
def test_a_placement_that_makes_no_sense_is_refused(
    tmp_path: Path, facts: dict[str, object], words: str
) -> None:
    lines = [
        f"{key} = {str(value).lower() if isinstance(value, bool) else _toml(value)}"
        for key, value in facts.items()
    ]
    (tmp_path / "place.toml").write_text("\n".join(lines))
    with pytest.raises(InputError, match=words):
        load_place(str(tmp_path / "place.toml"))


def _toml(value: object) -> str:
    return f'"{value}"' if isinstance(value, str) else str(value)


def test_degenerate_corners_do_not_get_so_far() -> None:
    with pytest.raises(np.linalg.LinAlgError):
        four_point_homography(np.zeros((4, 2)), np.array(CORNERS))


# --- matching


def _seen_px(place: Place, folds: Look | None = None) -> NDArray[np.float64]:
    """Columns and rows (160, 160, 2) of a design of 60 x 30 mm and 5 mm around it, from far off."""
    target = OnPhoto(Photo(np.full((300, 600, 3), 0.5, np.float32), 1e6, ()), place, None)
    law = homography(place, (60.0, 30.0))
    here = photo_stage(target, law, (60.0, 30.0), folds, (0, 0, 300, 600), load_light("soft-studio"))
    return here.place.reshape(160, 160, 3)[..., :2] / SUB


def test_on_a_cylinder_the_design_is_seen_at_the_sine_of_its_arc() -> None:
    radius, scale = 40.0, 5.0
    half = scale * radius * np.sin(30.0 / radius)
    corners = ((300 - half, 75.0), (300 + half, 75.0), (300 + half, 225.0), (300 - half, 225.0))
    seen = _seen_px(Place(corners_px=corners, cylinder_mm=radius))
    u = np.linspace(-35.0, 35.0, 160)
    np.testing.assert_allclose(seen[80, :, 0], 300 + scale * radius * np.sin(u / radius), atol=0.1)
    np.testing.assert_allclose(seen[:, 80, 1], 150 + scale * np.linspace(-20.0, 20.0, 160), atol=0.1)


def test_folds_move_the_design_towards_the_light_where_they_are_lit() -> None:
    """By `SLIP_MM` where the light is doubled, by nothing where it is as usual."""
    place = Place(points_px=((200.0, 150.0), (400.0, 150.0)), distance_mm=40.0)
    shading = np.ones((300, 600), np.float32)
    shading[:, 300:] = 2.0
    moved = _seen_px(place, Look(0.0, 1.0, 0.0, np.ones(3), shading)) - _seen_px(place)
    azimuth = np.deg2rad(load_light("soft-studio").lamps[0].azimuth_deg)
    np.testing.assert_allclose(moved[:, :78], 0.0, atol=1e-6)
    slip = SLIP_MM * 5.0 * np.array([np.cos(azimuth), np.sin(azimuth)])
    np.testing.assert_allclose(moved[:, 82:], np.broadcast_to(slip, (160, 78, 2)), atol=1e-3)


@pytest.mark.parametrize("sigma", [0.8, 1.5, 2.5])
def test_blur_of_an_edge_is_measured(sigma: float) -> None:
    sharp = np.zeros((200, 200))
    sharp[:, 100:] = 1.0
    light = np.square(gaussian_filter(sharp, sigma)).astype(np.float32)
    assert blur_px(light) == pytest.approx(sigma, rel=0.2)


@pytest.mark.parametrize("sigma", [0.005, 0.02])
def test_grain_is_measured_over_a_slope(sigma: float) -> None:
    y, x = np.mgrid[:160, :160]
    plane = 0.3 + 0.002 * x + 0.001 * y
    noise = np.random.default_rng(4).standard_normal((160, 160, 3)) * sigma
    assert grain((plane[..., None] + noise).astype(np.float32)) == pytest.approx(sigma, rel=0.25)


@pytest.mark.parametrize("azimuth", [0, 45, 90, 135, 200, 225, 300])
def test_the_light_is_found_on_a_rounded_cloth(azimuth: float) -> None:
    """Lambert on a bulge, lit from a known side at 45 degrees."""
    y, x = np.mgrid[-1:1:160j, -1:1:160j]
    normal = np.dstack([0.5 * x, 0.5 * y, np.ones_like(x)])
    normal /= np.linalg.norm(normal, axis=2, keepdims=True)
    towards = np.array([np.cos(np.deg2rad(azimuth)), np.sin(np.deg2rad(azimuth)), 1.0]) / np.sqrt(2)
    light = np.maximum(normal @ towards, 0.01).astype(np.float32)
    found = light_azimuth_deg(light, 1.0)
    assert abs((found - azimuth + 180) % 360 - 180) < 12


def test_the_blanks_own_colour_tells_the_light() -> None:
    """Cloth of 50 % grey that shows 25 % red, 20 % green, 10 % blue: a dim warm light."""
    from render.colour import to_srgb

    shown = np.broadcast_to(to_srgb(np.array([0.25, 0.20, 0.10])), (60, 60, 3)).astype(np.float32)
    own = tuple(float(v) for v in to_srgb(np.array([0.5, 0.5, 0.5])))
    look = look_of(shown, (0, 0, 60, 60), 4.0, own)  # type: ignore[arg-type]
    np.testing.assert_allclose(look.card_linear, [0.5, 0.4, 0.2], rtol=1e-3)


# --- the whole way


@pytest.mark.slow
def test_the_design_lies_where_it_was_placed_and_under_the_mask(tmp_path: Path) -> None:
    blank = blanks.saved(tmp_path, Image.fromarray(blanks.blank()), "blank.png")
    mask = np.full((360, 480), 255, np.uint8)
    mask[:, :215] = 0
    hidden = blanks.saved(tmp_path, Image.fromarray(mask), "mask.png")
    corners = " ".join(f"{x},{y}" for x, y in CORNERS)
    common = ["scene", BADGE, "--photo", blank, "--finish", "cleaned"]
    place = tmp_path / "place.toml"
    assert (
        run([*common, "--corners", corners, "--save-place", str(place), "-o", str(tmp_path / "a.png")]) == 0
    )
    assert run([*common, "--place", str(place), "--mask", hidden, "-o", str(tmp_path / "b.png")]) == 0
    before = np.asarray(Image.open(blank)).astype(int)
    whole, cut = (np.asarray(Image.open(tmp_path / name)).astype(int) for name in ("a.png", "b.png"))
    changed = np.abs(whole - before).max(2) > 24
    rows, cols = np.nonzero(changed)
    # The design's box has the corners; a thread's own width and its shadow reach a little beyond.
    assert 88 <= rows.min() <= 112
    assert 240 <= rows.max() <= 266
    assert 106 <= cols.min() <= 122
    assert 300 <= cols.max() <= 322
    assert (cut[:, :214] == before[:, :214]).all()
    assert np.abs(cut - before)[:, 230:].max() > 60


def test_place_is_needed_and_only_with_a_photo(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    blank = blanks.saved(tmp_path, Image.fromarray(blanks.blank()), "blank.png")
    out = str(tmp_path / "x.png")
    assert run(["scene", BADGE, "--photo", blank, "-o", out]) == 2
    assert "say where on the photo" in capsys.readouterr().err
    assert run(["scene", BADGE, "--on", "polo", "--corners", "1,1 2,1 2,2 1,2", "-o", out]) in (2, 65)
    assert capsys.readouterr().err.count("\n") == 1
    assert (
        run(
            [
                "scene",
                BADGE,
                "--photo",
                blank,
                "--corners",
                "9000,9000 9100,9000 9100,9100 9000,9100",
                "-o",
                out,
            ]
        )
        == 65
    )
    assert "beyond the edge" in capsys.readouterr().err
