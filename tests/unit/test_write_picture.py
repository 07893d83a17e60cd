"""Picture files: scale, profile, mark, transparency, and nothing half written."""

from __future__ import annotations

import io
import os
import signal
import struct
import subprocess
import sys
import textwrap
import time
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageCms

from render.errors import OutputError, UsageError
from render.model import Picture
from render.write.files import check_destination, write_file
from render.write.picture import encode_picture, write_picture
from render.write.pictures import MARK


def gradient(dpi: float = 300.0, channels: int = 3, rows: int = 40, cols: int = 60) -> Picture:
    pixels = np.zeros((rows, cols, channels), np.uint8)
    pixels[..., 0] = np.linspace(0, 255, cols).astype(np.uint8)
    pixels[..., 1] = np.linspace(0, 255, rows).astype(np.uint8)[:, None]
    if channels == 4:
        pixels[..., 3] = np.linspace(0, 255, cols).astype(np.uint8)
    return Picture(pixels, dpi)


def png_chunks(data: bytes) -> dict[bytes, bytes]:
    """Chunks of a PNG by their names (PNG specification, section 5: length, type, data, CRC)."""
    chunks, at = {}, 8
    while at < len(data):
        length, name = struct.unpack(">I4s", data[at : at + 8])
        chunks.setdefault(name, data[at + 8 : at + 8 + length])
        at += 12 + length
    return chunks


# PNG specification, pHYs: pixels per metre, unit 1; the integers are dpi / 0.0254 rounded.
@pytest.mark.parametrize(
    ("dpi", "per_metre"), [(72, 2835), (96, 3780), (150, 5906), (254, 10000), (300, 11811), (600, 23622)]
)
def test_png_carries_pixels_per_metre(dpi: int, per_metre: int) -> None:
    chunk = png_chunks(encode_picture(gradient(dpi), "PNG"))[b"pHYs"]
    assert struct.unpack(">IIB", chunk) == (per_metre, per_metre, 1)


# JFIF 1.02, APP0: "JFIF\0", version, units (1 = dots per inch), X density, Y density.
@pytest.mark.parametrize("dpi", [72, 150, 300, 600])
def test_jpeg_carries_dots_per_inch(dpi: int) -> None:
    data = encode_picture(gradient(dpi), "JPEG")
    at = data.index(b"JFIF\0") + 7
    assert struct.unpack(">BHH", data[at : at + 5]) == (1, dpi, dpi)


def test_jpeg_keeps_an_uneven_scale_in_exif() -> None:
    exif = Image.open(io.BytesIO(encode_picture(gradient(304.8), "JPEG"))).getexif()
    assert float(exif[282]) == pytest.approx(304.8, abs=1e-6)


# TIFF 6.0, section 8: 282 XResolution, 283 YResolution, 296 ResolutionUnit (2 = inch).
@pytest.mark.parametrize("dpi", [72, 254, 300, 600])
def test_tiff_carries_dots_per_inch(dpi: int) -> None:
    tags = Image.open(io.BytesIO(encode_picture(gradient(dpi), "TIFF"))).tag_v2  # type: ignore[attr-defined]
    assert (tags[282], tags[283], tags[296]) == (dpi, dpi, 2)


def test_webp_carries_dots_per_inch_in_exif() -> None:
    exif = Image.open(io.BytesIO(encode_picture(gradient(300), "WEBP"))).getexif()
    assert (exif[282], exif[283], exif[296]) == (300, 300, 2)


@pytest.mark.parametrize("file_format", ["PNG", "JPEG", "TIFF", "WEBP"])
def test_file_says_that_it_is_a_simulated_preview(file_format: str) -> None:
    image = Image.open(io.BytesIO(encode_picture(gradient(), file_format)))
    if file_format == "PNG":
        assert image.info["Description"] == MARK
    else:
        assert image.getexif()[270] == MARK
    if file_format == "JPEG":
        assert image.info["comment"] == MARK.encode()
    assert MARK == "simulated preview"


@pytest.mark.parametrize("file_format", ["PNG", "JPEG", "TIFF", "WEBP"])
def test_file_carries_the_srgb_profile(file_format: str) -> None:
    profile = Image.open(io.BytesIO(encode_picture(gradient(), file_format))).info["icc_profile"]
    # ICC profile header: "acsp" at byte 36, colour space at byte 16.
    assert (profile[36:40], profile[16:20]) == (b"acsp", b"RGB ")
    # sRGB colorants on the ICC's D50, row by row (IEC 61966-2-1, adapted; Pillow's own profile).
    assert _tag(profile, b"rXYZ") == pytest.approx((0.4361, 0.2225, 0.0139), abs=3e-4)
    assert _tag(profile, b"gXYZ") == pytest.approx((0.3851, 0.7169, 0.0971), abs=3e-4)
    assert _tag(profile, b"bXYZ") == pytest.approx((0.1431, 0.0606, 0.7141), abs=3e-4)


def _tag(profile: bytes, name: bytes) -> tuple[float, ...]:
    """An XYZ tag: s15Fixed16 numbers (ICC.1:2010, 10.27), found by the tag table at byte 128."""
    count = struct.unpack(">I", profile[128:132])[0]
    table = [struct.unpack(">4sII", profile[132 + 12 * i : 144 + 12 * i]) for i in range(count)]
    offset = next(at for tag, at, _ in table if tag == name)
    return tuple(v / 65536 for v in struct.unpack(">3i", profile[offset + 8 : offset + 20]))


def test_profile_leaves_srgb_colours_alone() -> None:
    image = Image.open(io.BytesIO(encode_picture(gradient(), "PNG")))
    ours = ImageCms.ImageCmsProfile(io.BytesIO(image.info["icc_profile"]))
    converted = ImageCms.profileToProfile(image, ours, ImageCms.createProfile("sRGB"))
    assert converted is not None
    assert np.abs(np.asarray(converted, int) - np.asarray(image, int)).max() <= 1


@pytest.mark.parametrize("file_format", ["PNG", "TIFF"])
@pytest.mark.parametrize("channels", [3, 4])
def test_lossless_formats_return_the_pixels(file_format: str, channels: int) -> None:
    picture = gradient(channels=channels)
    image = Image.open(io.BytesIO(encode_picture(picture, file_format)))
    assert np.array_equal(np.asarray(image), picture.pixels)


@pytest.mark.parametrize("channels", [3, 4])
def test_webp_stays_close_and_keeps_transparency(channels: int) -> None:
    picture = gradient(channels=channels)
    image = np.asarray(Image.open(io.BytesIO(encode_picture(picture, "WEBP"))).convert("RGBA"), int)
    if channels == 4:
        assert np.array_equal(image[..., 3], picture.pixels[..., 3])
    seen = image[..., 3] > 128
    assert np.abs(image[..., :3] - picture.pixels[..., :3])[seen].mean() < 4


def test_jpeg_lays_transparency_on_white() -> None:
    pixels = np.zeros((32, 32, 4), np.uint8)
    pixels[:, 16:, 3] = 255
    image = np.asarray(Image.open(io.BytesIO(encode_picture(Picture(pixels, 300.0), "JPEG"))))
    assert image[:, :8].min() > 250
    assert image[:, 24:].max() < 5


@pytest.mark.parametrize("file_format", ["PNG", "JPEG", "TIFF", "WEBP"])
def test_same_picture_same_bytes(file_format: str) -> None:
    assert encode_picture(gradient(), file_format) == encode_picture(gradient(), file_format)


@pytest.mark.parametrize(("file_format", "side"), [("WEBP", 16_384), ("JPEG", 65_501)])
def test_too_many_pixels_for_the_format_is_said_before_encoding(file_format: str, side: int) -> None:
    with pytest.raises(UsageError, match="lower --dpi"):
        encode_picture(gradient(rows=1, cols=side), file_format)


def test_suffix_names_the_format(tmp_path: Path) -> None:
    for name in ("a.png", "a.JPG", "a.jpeg", "a.tif", "a.tiff", "a.webp"):
        write_picture(gradient(), tmp_path / name)
    found = {path.name: Image.open(path).format for path in tmp_path.iterdir()}
    assert found == {
        "a.png": "PNG",
        "a.JPG": "JPEG",
        "a.jpeg": "JPEG",
        "a.tif": "TIFF",
        "a.tiff": "TIFF",
        "a.webp": "WEBP",
    }


@pytest.mark.parametrize("name", ["a.gif", "a", "a.dst"])
def test_unknown_suffix_names_the_four(tmp_path: Path, name: str) -> None:
    with pytest.raises(UsageError, match=r"\.jpg, \.png, \.tif or \.webp"):
        write_picture(gradient(), tmp_path / name)
    assert not list(tmp_path.iterdir())


def test_existing_file_is_kept_unless_forced(tmp_path: Path) -> None:
    path = tmp_path / "a.png"
    path.write_bytes(b"kept")
    with pytest.raises(UsageError, match="--force"):
        write_picture(gradient(), path)
    assert path.read_bytes() == b"kept"
    write_picture(gradient(), path, force=True)
    assert Image.open(path).size == (60, 40)


def test_missing_folder_and_folder_as_file(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="no folder"):
        check_destination(tmp_path / "none" / "a.png")
    with pytest.raises(OutputError, match="is a folder"):
        check_destination(tmp_path)
    with pytest.raises(OutputError, match="name too long"):
        check_destination(tmp_path / ("x" * 300 + ".png"))


def test_link_stays_a_link(tmp_path: Path) -> None:
    (tmp_path / "real").mkdir()
    link = tmp_path / "link.png"
    link.symlink_to(tmp_path / "real" / "a.png")
    write_picture(gradient(), link)
    assert link.is_symlink()
    assert Image.open(tmp_path / "real" / "a.png").size == (60, 40)


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX permissions")
def test_new_file_has_the_ordinary_permissions(tmp_path: Path) -> None:
    before = os.umask(0o022)
    try:
        write_file(b"x", tmp_path / "a")
    finally:
        os.umask(before)
    assert (tmp_path / "a").stat().st_mode & 0o777 == 0o644


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
def test_special_files_are_refused() -> None:
    with pytest.raises(OutputError, match="no ordinary file"):
        write_file(b"x", "/dev/full", force=True)


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX file size limits")
def test_full_disk_leaves_neither_half_a_file_nor_a_temporary_one(tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(b"kept")
    script = f"""
        import resource, signal
        from render.errors import OutputError
        from render.write.files import write_file
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000))
        try:
            write_file(bytes(5000), {str(tmp_path / "a")!r}, force=True)
        except OutputError as error:
            print(error)
    """
    done = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(script)], capture_output=True, text=True, check=True
    )
    assert "file too large" in done.stdout
    assert [path.name for path in tmp_path.iterdir()] == ["a"]
    assert (tmp_path / "a").read_bytes() == b"kept"


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX signals")
def test_killed_while_writing_leaves_the_old_file(tmp_path: Path) -> None:
    """A writer killed between its first and last byte must not be noticed at the destination."""
    (tmp_path / "a").write_bytes(b"kept")
    script = f"""
        import pathlib, time
        from render.write.files import write_file
        whole = pathlib.Path.open

        class Slow:
            def __init__(self, stream): self.stream = stream
            def __enter__(self): return self
            def __exit__(self, *reason): self.stream.close()
            def write(self, data):
                self.stream.write(data[: len(data) // 2])
                self.stream.flush()
                time.sleep(60)

        pathlib.Path.open = lambda path, mode: Slow(whole(path, mode))
        write_file(bytes(100_000), {str(tmp_path / "a")!r}, force=True)
    """
    writer = subprocess.Popen([sys.executable, "-c", textwrap.dedent(script)])
    try:
        deadline = time.monotonic() + 120
        while not any(p.suffix == ".part" and p.stat().st_size for p in tmp_path.iterdir()):
            assert time.monotonic() < deadline, "the writer never began"
            time.sleep(0.02)
    finally:
        writer.send_signal(signal.SIGKILL)
        writer.wait()
    assert (tmp_path / "a").read_bytes() == b"kept"
