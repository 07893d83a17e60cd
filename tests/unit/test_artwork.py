"""The customer's logo laid on the sewing: areas made by hand, each change found, nothing else."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import samples
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from render.errors import InputError
from render.inspection.artwork import ArtworkMatch, match_artwork
from render.inspection.artwork_words import artwork_lines
from render.model import CLOTH as NO_THREAD
from render.model import Cover, Window
from render.read.artwork import read_artwork

THREADS = (samples.RED, samples.CREAM)
CLOTH = (0.1, 0.2, 0.4)
BLOCK_OF = np.array([0, 1])
BOX_MM = (-20.0, -15.0, 20.0, 15.0)


def cover(*, counter: bool = True) -> Cover:
    """A red disc with a cream bar on it, a cream square beside it, 20 pixels a mm."""
    window = Window((0.0, 0.0), 20.0, 640, 840)
    row, col = np.mgrid[:640, :840]
    x, y = (col - 420) / 20, (row - 320) / 20
    stitch = np.full((640, 840), NO_THREAD, np.int32)
    stitch[np.hypot(x + 7, y) < 12] = 0
    stitch[(abs(x + 7) < 6) & (abs(y) < 2)] = 1
    stitch[(abs(x - 14) < 4) & (abs(y) < 4)] = 1
    if not counter:
        stitch[(abs(x + 7) < 6) & (abs(y) < 2)] = 0
    return Cover(stitch, np.full_like(stitch, -1), window)


def logo(px_per_mm: float = 13.0, *, bar: str = "cream", square: str | None = "cream") -> Image.Image:
    """The same as a picture on white, at another scale and off its middle, with soft edges."""
    red, cream = (tuple(round(255 * c) for c in thread.colour_srgb) for thread in THREADS)
    names = {"cream": cream, "green": (20, 140, 60)}
    page = Image.new("RGB", (3 * 700, 3 * 500), "white")
    draw, s = ImageDraw.Draw(page), 3 * px_per_mm

    def at(x: float, y: float) -> tuple[float, float]:
        return 3 * 300 + s * x, 3 * 260 + s * y

    draw.ellipse((*at(-19, -12), *at(5, 12)), fill=red)
    draw.rectangle((*at(-13, -2), *at(-1, 2)), fill=names[bar])
    if square is not None:
        draw.rectangle((*at(10, -4), *at(18, 4)), fill=names[square])
    return page.resize((700, 500), Image.Resampling.BOX)


def match(picture: Image.Image, sewn: Cover | None = None) -> ArtworkMatch:
    pixels: NDArray[np.float64] = np.asarray(picture.convert("RGBA"), np.float64) / 255
    return match_artwork(
        pixels, cover() if sewn is None else sewn, block_of=BLOCK_OF, threads=THREADS, cloth=CLOTH
    )


@pytest.mark.parametrize("px_per_mm", [6.0, 13.0])
def test_artwork_that_was_followed_has_no_differences(px_per_mm: float) -> None:
    found = match(logo(px_per_mm))
    assert found.overlap > 0.95
    assert not found.findings
    assert "agree" in artwork_lines(found, BOX_MM)[0]


def test_a_transparent_ground_is_no_artwork() -> None:
    picture = logo().convert("RGBA")
    pixels = np.array(picture)
    pixels[(pixels[..., :3] > 250).all(2)] = (255, 255, 255, 0)
    assert not match(Image.fromarray(pixels)).findings


def test_a_wrong_colour_is_found_where_it_is() -> None:
    (one,) = match(logo(bar="green")).findings
    assert one.what == "wrong-colour"
    assert one.where_mm == pytest.approx((-7, 0), abs=0.5)
    assert one.size_mm == pytest.approx(12, rel=0.05)
    assert one.sewn_srgb == pytest.approx(samples.CREAM.colour_srgb)


def test_a_shape_that_is_not_sewn_is_found_where_it_is() -> None:
    page = logo()
    ImageDraw.Draw(page).ellipse((560, 380, 620, 440), fill=(20, 140, 60))
    found = [one for one in match(page).findings if one.what == "missing-shape"]
    (one,) = found
    assert one.where_mm == pytest.approx(((590 - 300) / 13, (410 - 260) / 13), abs=0.6)
    assert one.size_mm == pytest.approx(60 / 13, rel=0.06)


def test_thin_detail_that_ran_into_its_neighbour_is_lost_detail() -> None:
    page = logo()
    # Two bars of 0.7 mm in the disc that nothing was sewn for.
    for y in (5.0, 7.0):
        left, top = 300 + 13 * -12, 260 + 13 * y
        ImageDraw.Draw(page).rectangle((left, top, left + 13 * 8, top + 0.7 * 13), fill=(240, 235, 224))
    assert {one.what for one in match(page).findings} == {"lost-detail"}


def test_another_logo_is_said_to_be_another() -> None:
    page = Image.new("RGB", (600, 600), "white")
    ImageDraw.Draw(page).line((20, 20, 580, 580), fill="black", width=8)
    found = match(page)
    assert not found.findings
    assert "another design" in artwork_lines(found, BOX_MM)[0]


def test_what_is_no_picture_is_refused_in_one_sentence(tmp_path: Path) -> None:
    path = tmp_path / "logo.png"
    path.write_bytes(b"no picture")
    with pytest.raises(InputError, match=r"is no picture that can be read"):
        read_artwork(str(path))
    with pytest.raises(InputError, match=r"cannot read the artwork .* \(No such file.*: check its name"):
        read_artwork(str(tmp_path / "none.png"))


@pytest.mark.parametrize("ending", ["png", "tif"])
def test_grey_of_sixteen_bits_keeps_its_shades(tmp_path: Path, ending: str) -> None:
    """A level of 16 bits is that of 8 times 257: black, two greys and white."""
    shades = np.array([[0, 51, 204, 255]], np.uint16)
    Image.fromarray(shades * 257).save(tmp_path / f"grey.{ending}")
    read = read_artwork(str(tmp_path / f"grey.{ending}"))
    assert (read[0, :, :3] * 255).round().tolist() == [[level] * 3 for level in shades[0]]
    assert (read[..., 3] == 1).all()
