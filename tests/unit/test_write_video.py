"""Films read back by other programs: PyAV (FFmpeg's libraries) for MP4 and WebM, Pillow for GIF and PNG."""

from __future__ import annotations

import struct
import sys
import tracemalloc
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from render.colour import ciede2000, to_lab
from render.errors import OutputError, UsageError
from render.write.films import Shape, gif, mp4, webm
from render.write.films.gif import shared_palette
from render.write.video import film_file, film_format

Pixels = NDArray[np.uint8]
ROWS, COLS = 90, 130


def frames(count: int, rows: int = ROWS, cols: int = COLS) -> list[Pixels]:
    """Coloured squares that come one by one; every fifth frame is as the one before."""
    rng = np.random.default_rng(7)
    picture = np.full((rows, cols, 3), (30, 90, 60), np.uint8)
    out = []
    for number in range(count):
        if number % 5:
            top, left = rng.integers(0, rows - 20), rng.integers(0, cols - 20)
            picture[top : top + 17, left : left + 19] = rng.integers(0, 8, 3) * 36
        out.append(picture.copy())
    return out


def write(path: Path, film: list[Pixels], fps: float, plays: int = 0) -> None:
    shape = Shape(film[0].shape[1], film[0].shape[0], fps, plays)
    with film_file(path, shape, palette_from=film) as writer:
        for pixels in film:
            writer.add(pixels)


def shown(path: Path) -> Iterator[tuple[Pixels, float]]:
    """Frames of an animated picture and how long each is shown, ms."""
    with Image.open(path) as image:
        for number in range(getattr(image, "n_frames", 1)):
            image.seek(number)
            yield np.array(image.convert("RGB")), image.info["duration"]


@pytest.mark.parametrize("suffix", ["mp4", "webm"])
def test_a_film_has_its_frames_size_length_and_colours(tmp_path: Path, suffix: str) -> None:
    pytest.importorskip("imageio_ffmpeg")
    av = pytest.importorskip("av")
    path, film = tmp_path / f"film.{suffix}", frames(50)
    write(path, film, 25.0)
    with av.open(str(path)) as container:
        stream = container.streams.video[0]
        codec = stream.codec_context
        assert codec.name in {"mp4": ("h264",), "webm": ("vp9", "libvpx-vp9")}[suffix]
        assert (codec.width, codec.height, codec.pix_fmt) == (COLS, ROWS, "yuv420p")
        assert stream.average_rate == 25
        # 1 is BT.709 in all three; range 1 is limited (ISO/IEC 23091-2).
        assert (codec.colorspace, codec.color_primaries, codec.color_trc, codec.color_range) == (1, 1, 1, 1)
        assert container.duration / av.time_base == pytest.approx(2.0, abs=0.041)
        decoded = [frame.to_ndarray(format="rgb24") for frame in container.decode(stream)]
    assert len(decoded) == 50
    # Large even areas keep their colour: the matrix that wrote them is the one that they are tagged with.
    corner = np.array(
        [
            d[:6, :6].reshape(-1, 3).mean(0) - f[:6, :6].reshape(-1, 3).mean(0)
            for d, f in zip(decoded, film, strict=True)
        ]
    )
    assert np.abs(corner).max() < 6
    # Halved colours and lossy packing: by eye the same.
    assert np.mean([np.abs(d.astype(int) - f).mean() for d, f in zip(decoded, film, strict=True)]) < 6


def test_other_matrices_would_be_noticed(tmp_path: Path) -> None:
    """The colours of the test above tell BT.709 from BT.601 (matrices: ITU-R BT.709-6, BT.601-7)."""
    red = np.array([200.0, 40.0, 40.0])
    to_601 = np.array([[0.299, 0.587, 0.114], [-0.168736, -0.331264, 0.5], [0.5, -0.418688, -0.081312]])
    to_709 = np.array([[0.2126, 0.7152, 0.0722], [-0.114572, -0.385428, 0.5], [0.5, -0.454153, -0.045847]])
    assert np.abs(np.linalg.inv(to_709) @ (to_601 @ red) - red).max() > 6


def test_an_animated_png_is_exact(tmp_path: Path) -> None:
    path, film = tmp_path / "film.png", frames(40)
    write(path, film, 24.0, plays=3)
    found = list(shown(path))
    # Frames that are alike are one that is shown longer: compare at the middle of each frame's time.
    ends = np.cumsum([ms for _, ms in found])
    assert ends[-1] == pytest.approx(1000 * 40 / 24, abs=1e-6 * len(found) + 0.5)
    for number, pixels in enumerate(film):
        at = int(np.searchsorted(ends, (number + 0.5) * 1000 / 24, "right"))
        assert np.array_equal(found[at][0], pixels)
    data = path.read_bytes()
    control = data.index(b"acTL")
    assert struct.unpack(">II", data[control + 4 : control + 12]) == (len(found), 3)
    assert len(found) < 40


@pytest.mark.parametrize(("fps", "off"), [(29.97, 1e-9), (24000 / 1001, 1e-6), (119.999, 1e-5), (0.1, 1e-9)])
def test_a_frame_rate_that_is_no_whole_number_is_kept_in_png(tmp_path: Path, fps: float, off: float) -> None:
    path = tmp_path / "film.png"
    write(path, frames(3), fps)
    data = path.read_bytes()
    delays = [struct.unpack(">HH", data[at + 20 : at + 24]) for at in _chunks(data, b"fcTL")]
    assert sum(a / b for a, b in delays) == pytest.approx(3 / fps, rel=off)


def _chunks(data: bytes, kind: bytes) -> list[int]:
    """Where the contents of chunks of a kind begin, walking through the file (PNG, 3rd edition, 5.3)."""
    at, found = 8, []
    while at < len(data):
        (length,) = struct.unpack(">I", data[at : at + 4])
        if data[at + 4 : at + 8] == kind:
            found.append(at + 8)
        at += 12 + length
    assert data[-8:-4] == b"IEND"
    return found


@pytest.mark.parametrize("fps", [50.0, 25.0, 20.0, 30.0, 12.0])
def test_the_delays_of_a_gif_do_not_drift(tmp_path: Path, fps: float) -> None:
    path, film = tmp_path / "film.gif", frames(60)
    write(path, film, fps)
    found = list(shown(path))
    assert sum(ms for _, ms in found) == pytest.approx(1000 * 60 / fps, abs=10)
    ends = np.cumsum([ms for _, ms in found])
    for number, pixels in enumerate(film):
        at = int(np.searchsorted(ends, (number + 0.5) * 1000 / fps, "right"))
        # One palette for all: the nearest of its colours.
        assert np.abs(found[at][0].astype(int) - pixels).mean() < 2.0
    assert Image.open(path).info["loop"] == 0
    assert min(ms for _, ms in found) >= 20


def test_a_gif_has_one_palette(tmp_path: Path) -> None:
    path = tmp_path / "film.gif"
    write(path, frames(12), 20.0, plays=2)
    with Image.open(path) as image:
        first = image.getpalette()
        assert image.info["loop"] == 1  # once, and once more
        for number in range(1, image.n_frames):  # type: ignore[attr-defined]
            image.seek(number)
            # No frame brings colours of its own.
            assert image.tile == [] or image.getpalette() in (first, None) or image.mode == "RGB"
    assert path.read_bytes().count(b"\x21\xf9\x04") >= 8


def test_sides_are_made_even_where_they_have_to_be(tmp_path: Path) -> None:
    assert mp4.FORMAT.sides(1081, 1919) == (1082, 1920)
    assert webm.FORMAT.sides(1080, 1920) == (1080, 1920)
    assert gif.FORMAT.sides(1081, 1919) == (1081, 1919)
    pytest.importorskip("imageio_ffmpeg")
    with pytest.raises(UsageError, match="even"):
        write(tmp_path / "odd.mp4", frames(2, 31, 31), 25.0)
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("suffix", ["mp4", "webm", "gif", "png"])
def test_stopped_half_way_it_leaves_nothing_behind(tmp_path: Path, suffix: str) -> None:
    if suffix in ("mp4", "webm"):
        pytest.importorskip("imageio_ffmpeg")
    path = tmp_path / f"film.{suffix}"
    path.write_bytes(b"what was there")

    def stop() -> None:
        with film_file(path, Shape(COLS, ROWS, 20.0), palette_from=frames(1), force=True) as writer:
            for pixels in frames(4):
                writer.add(pixels)
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        stop()
    assert [p.name for p in tmp_path.iterdir()] == [path.name]
    assert path.read_bytes() == b"what was there"


@pytest.mark.parametrize("suffix", ["gif", "png"])
def test_a_longer_film_takes_no_more_memory(tmp_path: Path, suffix: str) -> None:
    def peak(count: int) -> int:
        picture = frames(1)[0]
        tracemalloc.start()
        with film_file(
            tmp_path / f"{count}.{suffix}", Shape(COLS, ROWS, 20.0), palette_from=[picture]
        ) as out:
            for number in range(count):
                picture[number % 80 : number % 80 + 10] = number % 200
                out.add(picture)
        most = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        return most

    peak(3)
    assert peak(160) < 1.3 * peak(16)


def test_without_the_encoder_one_sentence_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "imageio_ffmpeg", None)
    with pytest.raises(UsageError, match="pip install imageio-ffmpeg") as caught:
        film_format("film.mp4")
    assert "\n" not in str(caught.value)
    assert film_format("film.GIF").title == "GIF"
    assert film_format("film.png").title == "APNG"


def test_an_encoder_that_is_not_where_it_is_said_to_be(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Told before anything is drawn."""
    monkeypatch.setenv("IMAGEIO_FFMPEG_EXE", str(tmp_path / "ffmpeg"))
    with pytest.raises(UsageError, match="pip install imageio-ffmpeg"):
        film_format("x.mp4")


@pytest.mark.skipif(sys.platform == "win32", reason="the stand-in for the encoder is a shell script")
@pytest.mark.parametrize("takes", ["cat > /dev/null; ", ""])
def test_an_encoder_that_fails_leaves_nothing_and_says_why(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, takes: str
) -> None:
    """Whether it has taken all frames by then or ends before."""
    script = tmp_path / "encoder"
    script.write_text(
        f'#!/bin/sh\n{takes}for part; do :; done; printf half > "$part"\n'
        "echo '[out#0/mp4 @ 0x1] Error closing file: No space left on device' >&2; exit 228\n"
    )
    script.chmod(0o755)
    pytest.importorskip("imageio_ffmpeg")
    monkeypatch.setenv("IMAGEIO_FFMPEG_EXE", str(script))
    with pytest.raises(OutputError) as failed:
        write(tmp_path / "film.mp4", frames(20), 25.0)
    assert str(failed.value) == "the encoder failed: error closing file: no space left on device"
    assert [path.name for path in tmp_path.iterdir()] == ["encoder"]


def test_other_names_and_rates_are_refused(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="names no film"):
        film_format("film.avi")
    with pytest.raises(UsageError, match="50 frames a second"):
        write(tmp_path / "fast.gif", frames(2), 60.0)
    with pytest.raises(OutputError, match="no folder"):
        write(tmp_path / "nowhere" / "film.gif", frames(2), 20.0)


def test_a_gif_keeps_the_colours_of_small_parts() -> None:
    """Shaded gold and navy on a hundredth of a picture that is full of shades of green."""
    rng = np.random.default_rng(2)
    picture = rng.integers(0, 256, (300, 300, 3)).astype(np.uint8) // np.array([4, 2, 3], np.uint8)
    shade = rng.uniform(0.5, 1.0, (30, 30, 1))
    picture[:30, :15] = shade[:, :15] * (230, 170, 40)
    picture[:30, 15:30] = shade[:, 15:] * (30, 45, 100)
    kept = Image.fromarray(picture).quantize(palette=shared_palette([picture]), dither=Image.Dither.NONE)
    shown = np.array(kept.convert("RGB"))
    off = ciede2000(to_lab(shown / 255.0), to_lab(picture / 255.0))
    assert off[:30, :30].mean() < 2.5
    assert off.mean() < 6.0
