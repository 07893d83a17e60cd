"""Formats of pictures, one module each, which bears the name of their ending.

A module has a `FORMAT`. The file carries its scale (dots per inch), the sRGB profile and the words
"simulated preview".
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable

    from PIL import Image

# Readers must be able to tell a drawing from a photograph of a sewn piece.
MARK = "simulated preview"

# EXIF and TIFF share these tag numbers (TIFF 6.0, section 8).
_IMAGE_DESCRIPTION, _X_RESOLUTION, _Y_RESOLUTION, _RESOLUTION_UNIT = 270, 282, 283, 296
_PER_INCH = 2


@dataclass(frozen=True, slots=True)
class PictureFormat:
    """What it is called, and the function that makes a file's bytes of an image at so many dots per inch.

    `also` are other endings; a format that is not `transparent` gets images laid on white.
    """

    title: str
    encoded: Callable[[Image.Image, float], bytes]
    also: tuple[str, ...] = ()
    largest_side_px: int | None = None
    transparent: bool = True


def saved(image: Image.Image, title: str, **options: Any) -> bytes:
    """The bytes that Pillow makes of an image in a format that it knows, with the sRGB profile."""
    from importlib.resources import files

    stream = io.BytesIO()
    profile = files("render.write").joinpath("srgb.icc").read_bytes()
    image.save(stream, title, icc_profile=profile, **options)
    return stream.getvalue()


def exif(dpi: float) -> Image.Exif:
    """EXIF with the mark and the scale."""
    from PIL import Image

    tags = Image.Exif()
    tags[_IMAGE_DESCRIPTION] = MARK
    tags[_X_RESOLUTION] = tags[_Y_RESOLUTION] = dpi
    tags[_RESOLUTION_UNIT] = _PER_INCH
    return tags
