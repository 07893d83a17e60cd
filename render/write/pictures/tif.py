"""TIFF: exact, as print shops take it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from render.write.pictures import MARK, PictureFormat, saved

if TYPE_CHECKING:
    from PIL import Image


def _encoded(image: Image.Image, dpi: float) -> bytes:
    return saved(image, "TIFF", dpi=(dpi, dpi), description=MARK, compression="tiff_adobe_deflate")


FORMAT = PictureFormat("TIFF", _encoded, also=(".tiff",))
