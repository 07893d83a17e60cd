"""Pages to print, as PDF or PNG at true size."""

from __future__ import annotations

import io
import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

from render.errors import UsageError
from render.write.files import write_file

if TYPE_CHECKING:
    from collections.abc import Sequence

    from render.model import Picture

FORMATS = {".pdf": "PDF", ".png": "PNG"}


def page_format(path: str | os.PathLike[str]) -> str:
    """The format that a file name asks for: PDF or PNG. Raises UsageError for others."""
    suffix = Path(path).suffix.lower()
    if suffix not in FORMATS:
        raise UsageError(f"{Path(path).name!r} names no format for a page to print: end it in .pdf or .png")
    return FORMATS[suffix]


def write_pages(pages: Sequence[Picture], path: str | os.PathLike[str], *, force: bool = False) -> None:
    """Write pages, as PNG only one; the same pages make the same bytes.

    Errors as `page_format` and `write_file`.
    """
    write_file(encode_pages(pages, page_format(path)), path, force=force)


def encode_pages(pages: Sequence[Picture], file_format: str) -> bytes:
    """The bytes of a PDF file, or of a PNG file of the one page; without colour where it has none."""
    from PIL import Image

    first, *others = (Image.fromarray(page.pixels).convert(_mode(page)) for page in pages)
    stream, dpi = io.BytesIO(), pages[0].dpi
    if file_format == "PDF":
        # Without dates, which the writer would take from the clock; lines stay crisp at this quality.
        dateless: dict[str, Any] = {"creationDate": None, "modDate": None}
        first.save(stream, "PDF", resolution=dpi, quality=95, save_all=True, append_images=others, **dateless)
    else:
        first.save(stream, "PNG", dpi=(dpi, dpi), optimize=True)
    return stream.getvalue()


def _mode(page: Picture) -> str:
    grey = (page.pixels == page.pixels[..., :1]).all()
    return "L" if grey else "RGB"
