"""A photograph of a blank is read as it was meant: turned, with its profile, to the last bit."""

from __future__ import annotations

import io
import struct
import zlib
from pathlib import Path
from typing import Literal

import blanks
import numpy as np
import pytest
import tifffile
from numpy.typing import NDArray
from PIL import Image, ImageCms

from render.errors import InputError
from render.scene.photo.reading import read_mask, read_photo


def test_exif_orientation_turns_the_photo(tmp_path: Path) -> None:
    """6: the camera was held so that the top of the scene is the right side of the sensor (EXIF 2.32)."""
    pixels = blanks.blank(100, 160)
    pixels[:20, :20] = (255, 0, 0)
    exif = Image.Exif()
    exif[0x0112] = 6
    path = blanks.saved(tmp_path, Image.fromarray(pixels), "turned.png", exif=exif)
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
    path = blanks.saved(tmp_path, Image.fromarray(pixels), "plain.png", icc_profile=plain)
    assert np.abs(read_photo(path).srgb - 118 / 255).max() < 1.5 / 255
    # A profile whose red and blue primaries are swapped swaps the channels.
    swapped = _with_red_and_blue_swapped(plain)
    pixels[..., 0] = 200
    path = blanks.saved(tmp_path, Image.fromarray(pixels), "swapped.png", icc_profile=swapped)
    red, _, blue = read_photo(path).srgb.mean((0, 1))
    assert blue > red + 0.2


def _with_red_and_blue_swapped(profile: bytes) -> bytes:
    """An ICC profile with the names of two of its tags exchanged (ICC.1:2022, 7.3)."""
    return profile.replace(b"rXYZ", b"????").replace(b"bXYZ", b"rXYZ").replace(b"????", b"bXYZ")


def test_sixteen_bits_a_channel_keep_their_level(tmp_path: Path) -> None:
    grey = np.full((90, 90), 40000, np.uint16)
    path = blanks.saved(tmp_path, Image.fromarray(grey), "deep.png")
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


@pytest.mark.parametrize("fault", ["primary", "curve"])
def test_a_damaged_profile_of_deep_colour_is_left_out_or_read_at_8_bits(tmp_path: Path, fault: str) -> None:
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    if fault == "curve":
        # Of the second parametric kind, a straight line that does not rise (ICC.1:2022, 10.18).
        profile = _with_curve(profile, struct.pack(">4sIHH3i", b"para", 0, 1, 0, 65536, 0, 65536))
    else:
        at = profile.index(b"bXYZ")
        profile = profile[: at + 8] + b"\0\0\0\1" + profile[at + 12 :]
    (tmp_path / "deep.png").write_bytes(_deep_png(_deep_levels(), profile))
    assert "profile of deep.png" in " ".join(read_photo(str(tmp_path / "deep.png")).notes)


def test_what_a_camera_wrote_and_is_damaged_leaves_the_photo_as_it_stands(tmp_path: Path) -> None:
    exif = Image.Exif()
    exif[0x0112] = 6
    path = blanks.saved(tmp_path, Image.fromarray(blanks.blank(100, 160)), "shirt.webp", exif=exif)
    whole = Path(path).read_bytes()
    assert read_photo(path).srgb.shape == (160, 100, 3)
    Path(path).write_bytes(whole.replace(b"MM\0*", b"MM;*"))
    assert Path(path).read_bytes() != whole
    assert read_photo(path).srgb.shape == (100, 160, 3)


def test_levels_that_are_no_numbers_are_black(tmp_path: Path) -> None:
    grey = np.full((80, 80), 0.5, np.float32)
    grey[0] = np.nan
    path = blanks.saved(tmp_path, Image.fromarray(grey), "blank.tif")
    np.testing.assert_array_equal(read_photo(path).srgb[:2, 0, 0], [0.0, 0.5])


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
    Image.fromarray(blanks.blank()).save(stream, "JPEG")
    (tmp_path / "half.jpg").write_bytes(stream.getvalue()[: len(stream.getvalue()) // 2])
    with pytest.raises(InputError, match="damaged or cut off"):
        read_photo(str(tmp_path / "half.jpg"))
    with pytest.raises(InputError, match="at least 64"):
        read_photo(blanks.saved(tmp_path, Image.fromarray(blanks.blank(30, 30)), "small.png"))
    with pytest.raises(InputError, match="make them alike"):
        read_mask(blanks.saved(tmp_path, Image.fromarray(blanks.blank(80, 80)), "mask.png"), (90, 80))


def test_a_mask_of_sixteen_bits_keeps_its_soft_edge(tmp_path: Path) -> None:
    """A level of 16 bits is that of 8 times 257."""
    soft = np.repeat(np.arange(0, 240, 3, dtype=np.uint16)[None], 80, 0)
    path = blanks.saved(tmp_path, Image.fromarray(soft * 257), "mask.png")
    np.testing.assert_allclose(read_mask(path, (80, 80)), soft / 255, atol=1e-4)
