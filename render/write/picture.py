"""Pictures: true scale, sRGB, and marked as what they are. Their formats are the modules of `pictures/`."""

from __future__ import annotations

import io
import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

from render.errors import UsageError
from render.modules import endings, module_in
from render.words import either
from render.write.files import write_file

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray
    from PIL import Image

    from render.model import Picture
    from render.write.pictures import PictureFormat

FOLDER = "render.write.pictures"


def _formats() -> dict[str, PictureFormat]:
    """The formats by all their endings."""
    found = {ending: module_in(FOLDER, ending[1:]).FORMAT for ending in endings(FOLDER)}
    return found | {ending: form for form in found.values() for ending in form.also}


def picture_format(path: str | os.PathLike[str]) -> PictureFormat:
    """The format that a file name asks for by its ending. Raises UsageError for others."""
    check_picture_name(path)
    return _formats()[Path(path).suffix.lower()]


def check_picture_name(path: str | os.PathLike[str], *, besides: tuple[str, ...] = ()) -> None:
    """Refuse a file name that ends as no picture does, nor as one of `besides`. Raises UsageError."""
    if Path(path).suffix.lower() not in (*_formats(), *besides):
        known = either((*endings(FOLDER), *besides))
        raise UsageError(f"{Path(path).name!r} names no picture format: end it in {known}")


def write_picture(picture: Picture, path: str | os.PathLike[str], *, force: bool = False) -> None:
    """Write a picture in the format its suffix names, through a temporary file beside it.

    The file carries its scale (dots per inch), the sRGB profile and the words "simulated
    preview". JPEG knows no transparency and is laid on white. Raises UsageError for an unknown
    suffix, a picture too large for the format, or an existing file without `force`;
    OutputError when it cannot be written.
    """
    write_file(encode_picture(picture, picture_format(path).title), path, force=force)


def encode_picture(picture: Picture, file_format: str) -> bytes:
    """The bytes of a PNG, JPEG, TIFF or WEBP file of the picture; same picture, same bytes.

    Raises UsageError when the format cannot hold so many pixels.
    """
    from PIL import Image

    form = next(one for one in _formats().values() if one.title == file_format)
    rows, cols = picture.pixels.shape[:2]
    if form.largest_side_px is not None and max(rows, cols) > form.largest_side_px:
        raise UsageError(
            f"{form.title} holds at most {form.largest_side_px} pixels a side and this picture is "
            f"{cols} x {rows}: lower --dpi, or write PNG or TIFF"
        )
    image = Image.fromarray(picture.pixels)
    if not form.transparent and image.mode == "RGBA":
        image = _on_white(image)
    return form.encoded(image, picture.dpi)


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


def _on_white(image: Image.Image) -> Image.Image:
    """As every viewer shows it on a white page, so blended in sRGB."""
    from PIL import Image

    page = Image.new("RGBA", image.size, "white")
    page.alpha_composite(image)
    return page.convert("RGB")
