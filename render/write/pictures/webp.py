"""WebP: small, for web pages, and transparent where the picture is."""

from __future__ import annotations

from typing import TYPE_CHECKING

from render.write.pictures import PictureFormat, exif, saved

if TYPE_CHECKING:
    from PIL import Image


def _encoded(image: Image.Image, dpi: float) -> bytes:
    return saved(image, "WEBP", exif=exif(dpi), quality=95, method=2, exact=True)


FORMAT = PictureFormat("WEBP", _encoded, largest_side_px=16_383)
