"""A shop's own photo: read as it is meant, placed to a fraction of a pixel, matched in light, blur and grain.

Every photograph here is made up by the test itself.
"""

from __future__ import annotations

import io
import struct
import zlib
from pathlib import Path
from typing import Literal

import numpy as np
import pytest
import tifffile
from numpy.typing import NDArray
from PIL import Image, ImageCms
from scipy.ndimage import gaussian_filter
from skimage.transform import ProjectiveTransform

from render.cli import run
from render.errors import InputError
from render.scene.photo import pose
from render.scene.photo.matching import blur_px, grain, light_azimuth_deg, look_of
from render.scene.photo.placing import (
    Place,
    four_point_homography,
    homography,
    load_place,
    place_of,
    place_text,
)
from render.scene.photo.reading import read_mask, read_photo

BADGE = str(Path(__file__).parents[2] / "examples" / "cap-badge.dst")
CORNERS = [[120.0, 90.0], [318.0, 104.0], [305.0, 262.0], [110.0, 240.0]]


def _blank(rows: int = 360, cols: int = 480, level: float = 0.55) -> NDArray[np.uint8]:
    """Grey cloth, lighter to the upper left, with a dark edge across it."""
    y, x = np.mgrid[:rows, :cols]
    plane = level * (1.0 - 0.25 * (x / cols + y / rows - 1.0))
    plane = np.where(abs(x - 0.9 * cols) < 6, 0.1, plane)
    return np.uint8(np.clip(plane, 0, 1)[..., None].repeat(3, 2) * 255)


def _saved(tmp_path: Path, image: Image.Image, name: str, **options: object) -> str:
    path = tmp_path / name
    image.save(path, **options)
    return str(path)


# --- reading


def test_exif_orientation_turns_the_photo(tmp_path: Path) -> None:
    """6: the camera was held so that the top of the scene is the right side of the sensor (EXIF 2.32)."""
    pixels = _blank(100, 160)
    pixels[:20, :20] = (255, 0, 0)
    exif = Image.Exif()
    exif[0x0112] = 6
    path = _saved(tmp_path, Image.fromarray(pixels), "turned.png", exif=exif)
    photo = read_photo(path)
    assert photo.srgb.shape == (160, 100, 3)
    assert photo.srgb[5, -5, 0] > 0.9
    assert photo.srgb[5, -5, 1] < 0.1


def test_the_colour_profile_is_honoured(tmp_path: Path) -> None:
    """The same numbers mean another colour in a Lab-based or linear profile: here, one made with XYZ as
    its space by the library; its values must come out as sRGB says, not as they stand."""
    pixels = np.full((80, 80, 3), 118, np.uint8)
    own = ImageCms.createProfile("LAB")
    lab = Image.fromarray(np.dstack([np.full((80, 80), v, np.uint8) for v in (128, 128 + 60, 128)]), "LAB")
    to_srgb = ImageCms.profileToProfile(lab, own, ImageCms.createProfile("sRGB"), outputMode="RGB")
    plain = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    assert to_srgb is not None
    path = _saved(tmp_path, Image.fromarray(pixels), "plain.png", icc_profile=plain)
    assert np.abs(read_photo(path).srgb - 118 / 255).max() < 1.5 / 255
    # A profile whose red and blue primaries are swapped swaps the channels.
    swapped = _with_red_and_blue_swapped(plain)
    pixels[..., 0] = 200
    path = _saved(tmp_path, Image.fromarray(pixels), "swapped.png", icc_profile=swapped)
    red, _, blue = read_photo(path).srgb.mean((0, 1))
    assert blue > red + 0.2


def _with_red_and_blue_swapped(profile: bytes) -> bytes:
    """An ICC profile with the names of two of its tags exchanged (ICC.1:2022, 7.3)."""
    return profile.replace(b"rXYZ", b"????").replace(b"bXYZ", b"rXYZ").replace(b"????", b"bXYZ")


def test_sixteen_bits_a_channel_keep_their_level(tmp_path: Path) -> None:
    grey = np.full((90, 90), 40000, np.uint16)
    path = _saved(tmp_path, Image.fromarray(grey), "deep.png")
    assert read_photo(path).srgb.mean() == pytest.approx(40000 / 65535, abs=1e-3)


def _deep_levels(channels: int = 3) -> NDArray[np.uint16]:
    """Levels that no 8-bit picture holds, all different down the rows."""
    base = np.random.default_rng(8).integers(0, 65536, (72, 80, channels)).astype(np.uint16)
    base[:8] = np.arange(80)[None, :, None] + 30000
    return base


def _deep_png(levels: NDArray[np.uint16], profile: bytes | None = None) -> bytes:
    """A PNG of 16-bit colour, unfiltered (PNG 1.2, sections 3 and 4)."""
    rows, cols, channels = levels.shape

    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    head = struct.pack(">IIBBBBB", cols, rows, 16, 2 if channels == 3 else 6, 0, 0, 0)
    icc = chunk(b"iCCP", b"own\0\0" + zlib.compress(profile)) if profile else b""
    lines = b"".join(b"\0" + row.astype(">u2").tobytes() for row in levels)
    ends = chunk(b"IDAT", zlib.compress(lines)) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + icc + ends


@pytest.mark.parametrize("channels", [3, 4])
def test_png_of_sixteen_bit_colour_is_read_to_the_last_bit(tmp_path: Path, channels: int) -> None:
    levels = _deep_levels(channels)
    (tmp_path / "deep.png").write_bytes(_deep_png(levels))
    photo = read_photo(str(tmp_path / "deep.png"))
    np.testing.assert_array_equal(np.rint(photo.srgb.astype(np.float64) * 65535), levels[..., :3])


@pytest.mark.parametrize("compression", [None, "deflate", "lzw"])
@pytest.mark.parametrize("order", ["<", ">"])
def test_tiff_of_sixteen_bit_colour_is_read_to_the_last_bit(
    tmp_path: Path, compression: str | None, order: Literal["<", ">"]
) -> None:
    """Written by tifffile, or by libtiff where that has no such compression; turned as its tag 274 says."""
    levels = _deep_levels()
    path = tmp_path / "deep.tif"
    turn = [(274, "H", 1, 6, True)]
    if compression == "lzw":
        path.write_bytes(_lzw_tiff(levels, order))
    else:
        tifffile.imwrite(
            path, levels, photometric="rgb", byteorder=order, compression=compression, extratags=turn
        )
    photo = read_photo(str(path))
    np.testing.assert_array_equal(np.rint(photo.srgb.astype(np.float64) * 65535), np.rot90(levels, -1))


def _lzw_tiff(levels: NDArray[np.uint16], order: str) -> bytes:
    """LZW that only ever sends single bytes and clears its table in time (TIFF 6.0, section 13)."""
    bits = ""
    for count, byte in enumerate(levels.astype(f"{order}u2").tobytes()):
        if count % 250 == 0:
            bits += f"{256:09b}"
        bits += f"{byte:09b}"
    bits += f"{257:09b}"
    bits += "0" * (-len(bits) % 8)
    packed = int(bits, 2).to_bytes(len(bits) // 8, "big")
    rows, cols, _ = levels.shape
    facts = [(256, cols), (257, rows), (258, 0), (259, 5), (262, 2), (273, 0), (274, 6), (277, 3)]
    facts += [(278, rows), (279, len(packed)), (284, 1)]
    after = 8 + 2 + 12 * len(facts) + 4
    body = struct.pack(f"{order}2sHI", b"II" if order == "<" else b"MM", 42, 8)
    body += struct.pack(f"{order}H", len(facts))
    for tag, value in facts:
        if tag == 258:
            body += struct.pack(f"{order}HHII", tag, 3, 3, after)
        else:
            body += struct.pack(f"{order}HHII", tag, 4, 1, after + 6 if tag == 273 else value)
    return body + struct.pack(f"{order}I3H", 0, 16, 16, 16) + packed


def test_a_tiff_whose_deep_colours_lie_apart_is_refused(tmp_path: Path) -> None:
    """Pillow would give noise for it."""
    apart = np.moveaxis(_deep_levels(), 2, 0)
    tifffile.imwrite(tmp_path / "apart.tif", apart, photometric="rgb", planarconfig="separate")
    with pytest.raises(InputError, match="keeps its colours apart"):
        read_photo(str(tmp_path / "apart.tif"))


@pytest.mark.parametrize("curve", ["parametric", "gamma", "points", "swapped"])
def test_deep_colour_follows_its_profile_as_little_cms_does(tmp_path: Path, curve: str) -> None:
    """Little CMS gives 8 bits: ours is within its rounding, and differs where 8 bits cannot."""
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    if curve == "swapped":
        profile = _with_red_and_blue_swapped(profile)
    elif curve != "parametric":
        points = (np.linspace(0, 1, 256) ** 1.8 * 65535).astype(">u2")
        body = struct.pack(">4sII", b"curv", 0, 1) + struct.pack(">H", 563)  # 2.2, as 8.8 fixed point
        if curve == "points":
            body = struct.pack(">4sII", b"curv", 0, 256) + points.tobytes()
        profile = _with_curve(profile, body)
    levels = np.random.default_rng(3).integers(0, 256, (72, 80, 3)).astype(np.uint16) * np.uint16(257)
    (tmp_path / "deep.png").write_bytes(_deep_png(levels, profile))
    photo = read_photo(str(tmp_path / "deep.png"))
    eight = Image.fromarray((levels // 257).astype(np.uint8))
    theirs = ImageCms.profileToProfile(
        eight, ImageCms.ImageCmsProfile(io.BytesIO(profile)), ImageCms.createProfile("sRGB"), outputMode="RGB"
    )
    assert np.abs(photo.srgb - np.asarray(theirs) / 255).max() < 1.0 / 255
    deeper = levels - np.minimum(levels, np.uint16(100))
    (tmp_path / "deeper.png").write_bytes(_deep_png(deeper, profile))
    assert 0 < np.abs(read_photo(str(tmp_path / "deeper.png")).srgb - photo.srgb).mean() < 0.4 / 255


def _with_curve(profile: bytes, body: bytes) -> bytes:
    """The profile with this curve for all its channels, put at its end (ICC.1:2022, 7.3)."""
    body += b"\0" * (-len(body) % 4)
    out = bytearray(profile + body)
    (count,) = struct.unpack_from(">I", out, 128)
    for index in range(count):
        if bytes(out[132 + 12 * index : 136 + 12 * index]) in (b"rTRC", b"gTRC", b"bTRC"):
            struct.pack_into(">II", out, 136 + 12 * index, len(profile), len(body))
    struct.pack_into(">I", out, 0, len(out))
    return bytes(out)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"not a picture at all", "no photo that can be read"),
        (b"\x89PNG\r\n\x1a\n" + b"\0" * 40, "no photo|damaged"),
        (b"", "no photo that can be read"),
    ],
)
def test_what_is_no_photo_is_refused_in_one_sentence(tmp_path: Path, content: bytes, words: str) -> None:
    path = tmp_path / "bad.png"
    path.write_bytes(content)
    with pytest.raises(InputError, match=words) as caught:
        read_photo(str(path))
    assert "\n" not in str(caught.value)


def test_a_photo_that_is_cut_off_or_too_small_is_refused(tmp_path: Path) -> None:
    stream = io.BytesIO()
    Image.fromarray(_blank()).save(stream, "JPEG")
    (tmp_path / "half.jpg").write_bytes(stream.getvalue()[: len(stream.getvalue()) // 2])
    with pytest.raises(InputError, match="damaged or cut off"):
        read_photo(str(tmp_path / "half.jpg"))
    with pytest.raises(InputError, match="at least 64"):
        read_photo(_saved(tmp_path, Image.fromarray(_blank(30, 30)), "small.png"))
    with pytest.raises(InputError, match="make them alike"):
        read_mask(_saved(tmp_path, Image.fromarray(_blank(80, 80)), "mask.png"), (90, 80))


# --- placing


def test_four_corners_give_the_homography_of_scikit_image() -> None:
    law = homography(place_of({"corners_px": CORNERS, "size_mm": [90, 70]}, "here"), (50.0, 50.0))
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
            "size_mm": [80, 60.5],
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


def test_the_design_lies_where_it_was_placed_and_under_the_mask(tmp_path: Path) -> None:
    blank = _saved(tmp_path, Image.fromarray(_blank()), "blank.png")
    mask = np.full((360, 480), 255, np.uint8)
    mask[:, :215] = 0
    hidden = _saved(tmp_path, Image.fromarray(mask), "mask.png")
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
    blank = _saved(tmp_path, Image.fromarray(_blank()), "blank.png")
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


def test_a_place_is_a_record() -> None:
    assert Place(points_px=((0.0, 0.0), (9.0, 0.0))).folds is False
