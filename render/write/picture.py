"""Pictures as PNG, JPEG, TIFF and WebP: true scale, sRGB, and marked as what they are."""

from __future__ import annotations

import io
import os
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

from render.errors import UsageError
from render.write.files import write_file

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray
    from PIL import Image

    from render.model import Picture

# Readers must be able to tell a drawing from a photograph of a sewn piece.
MARK = "simulated preview"

FORMATS = {
    ".png": "PNG",
    ".jpg": "JPEG",
    ".jpeg": "JPEG",
    ".tif": "TIFF",
    ".tiff": "TIFF",
    ".webp": "WEBP",
}
_LARGEST_SIDE_PX = {"JPEG": 65_500, "WEBP": 16_383}

# EXIF and TIFF share these tag numbers (TIFF 6.0, section 8).
_IMAGE_DESCRIPTION, _X_RESOLUTION, _Y_RESOLUTION, _RESOLUTION_UNIT = 270, 282, 283, 296
_PER_INCH = 2


def picture_format(path: str | os.PathLike[str], *, besides: tuple[str, ...] = ()) -> str:
    """The format that a file name asks for: PNG, JPEG, TIFF or WEBP, or an ending of `besides` in capitals.

    Raises UsageError for others.
    """
    suffix = Path(path).suffix.lower()
    if suffix in besides:
        return suffix[1:].upper()
    if suffix not in FORMATS:
        *most, last = (".png", ".jpg", ".tif", ".webp", *besides)
        endings = f"{', '.join(most)} or {last}"
        raise UsageError(f"{Path(path).name!r} names no picture format: end it in {endings}")
    return FORMATS[suffix]


def write_picture(picture: Picture, path: str | os.PathLike[str], *, force: bool = False) -> None:
    """Write a picture in the format its suffix names, through a temporary file beside it.

    The file carries its scale (dots per inch), the sRGB profile and the words "simulated
    preview". JPEG knows no transparency and is laid on white. Raises UsageError for an unknown
    suffix, a picture too large for the format, or an existing file without `force`;
    OutputError when it cannot be written.
    """
    write_file(encode_picture(picture, picture_format(path)), path, force=force)


def encode_picture(picture: Picture, file_format: str) -> bytes:
    """The bytes of a PNG, JPEG, TIFF or WEBP file of the picture; same picture, same bytes.

    Raises UsageError when the format cannot hold so many pixels.
    """
    from PIL import Image

    rows, cols = picture.pixels.shape[:2]
    limit = _LARGEST_SIDE_PX.get(file_format)
    if limit is not None and max(rows, cols) > limit:
        raise UsageError(
            f"{file_format} holds at most {limit} pixels a side and this picture is {cols} x {rows}: "
            "lower --dpi, or write PNG or TIFF"
        )
    image = Image.fromarray(picture.pixels)
    if file_format == "JPEG" and image.mode == "RGBA":
        image = _on_white(image)
    stream = io.BytesIO()
    profile = files("render.write").joinpath("srgb.icc").read_bytes()
    image.save(stream, file_format, icc_profile=profile, **_options(file_format, picture.dpi))
    return stream.getvalue()


def encode_jpeg(pixels: NDArray[np.uint8], quality: int) -> bytes:
    """The bytes of a JPEG to be put into another file, which says scale and colour space itself."""
    from PIL import Image

    stream = io.BytesIO()
    Image.fromarray(pixels).save(stream, "JPEG", quality=quality, subsampling=0 if quality > 85 else 2)
    return stream.getvalue()


def halved(pixels: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """The picture at half its scale, each pixel the mean of four."""
    import numpy as np
    from PIL import Image

    return np.asarray(Image.fromarray(pixels).reduce(2))


def encode_webp(pixels: NDArray[np.uint8], quality: int | None) -> bytes:
    """The bytes of a WebP to be put into another file, grey or colour; without a `quality` lossless."""
    from PIL import Image

    stream = io.BytesIO()
    how: dict[str, Any] = {"lossless": True, "quality": 20} if quality is None else {"quality": quality}
    Image.fromarray(pixels).save(stream, "WEBP", method=2, exact=True, **how)
    return stream.getvalue()


def _options(file_format: str, dpi: float) -> dict[str, Any]:
    """What each format needs to carry scale, mark and good quality."""
    from PIL import PngImagePlugin

    if file_format == "PNG":
        text = PngImagePlugin.PngInfo()
        text.add_text("Description", MARK)
        # Measured on 250 mm of piqué: higher levels take up to three times as long for no smaller a file.
        return {"dpi": (dpi, dpi), "pnginfo": text, "compress_level": 1}
    if file_format == "JPEG":
        # JFIF holds whole numbers only; the exact scale is in EXIF.
        return {"dpi": (dpi, dpi), "comment": MARK, "exif": _exif(dpi), "quality": 95, "subsampling": 0}
    if file_format == "TIFF":
        return {"dpi": (dpi, dpi), "description": MARK, "compression": "tiff_adobe_deflate"}
    return {"exif": _exif(dpi), "quality": 95, "method": 2, "exact": True}


def _exif(dpi: float) -> Image.Exif:
    """EXIF with the mark and the scale."""
    from PIL import Image

    exif = Image.Exif()
    exif[_IMAGE_DESCRIPTION] = MARK
    exif[_X_RESOLUTION] = exif[_Y_RESOLUTION] = dpi
    exif[_RESOLUTION_UNIT] = _PER_INCH
    return exif


def _on_white(image: Image.Image) -> Image.Image:
    """As every viewer shows it on a white page, so blended in sRGB."""
    from PIL import Image

    page = Image.new("RGBA", image.size, "white")
    page.alpha_composite(image)
    return page.convert("RGB")
