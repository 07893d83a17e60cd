"""Pages to print, as PDF or PNG at true size."""

from __future__ import annotations

import io
import os
from pathlib import Path
from typing import TYPE_CHECKING

from render.errors import UsageError
from render.write.files import write_file

if TYPE_CHECKING:
    from render.model import Picture

FORMATS = {".pdf": "PDF", ".png": "PNG"}


def page_format(path: str | os.PathLike[str]) -> str:
    """The format that a file name asks for: PDF or PNG. Raises UsageError for others."""
    suffix = Path(path).suffix.lower()
    if suffix not in FORMATS:
        raise UsageError(f"{Path(path).name!r} names no format for a page to print: end it in .pdf or .png")
    return FORMATS[suffix]


def write_page(page: Picture, path: str | os.PathLike[str], *, force: bool = False) -> None:
    """Write a page; the same page makes the same bytes. Errors as `page_format` and `write_file`."""
    write_file(encode_page(page, page_format(path)), path, force=force)


def encode_page(page: Picture, file_format: str) -> bytes:
    """The bytes of a PDF or PNG file of a black and white page."""
    from PIL import Image

    image, stream = Image.fromarray(page.pixels).convert("L"), io.BytesIO()
    if file_format == "PDF":
        # Without dates, which the writer would take from the clock; lines stay crisp at this quality.
        image.save(stream, "PDF", resolution=page.dpi, quality=95, creationDate=None, modDate=None)
    else:
        image.save(stream, "PNG", dpi=(page.dpi, page.dpi), optimize=True)
    return stream.getvalue()
