"""JPEG: small, for looking at and for mail."""

from __future__ import annotations

from typing import TYPE_CHECKING

from render.write.pictures import MARK, PictureFormat, exif, saved

if TYPE_CHECKING:
    from PIL import Image


def _encoded(image: Image.Image, dpi: float) -> bytes:
    # JFIF holds whole numbers only; the exact scale is in EXIF.
    return saved(image, "JPEG", dpi=(dpi, dpi), comment=MARK, exif=exif(dpi), quality=95, subsampling=0)


FORMAT = PictureFormat("JPEG", _encoded, also=(".jpeg",), largest_side_px=65_500, transparent=False)
