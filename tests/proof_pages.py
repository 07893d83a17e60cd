"""A small proof, and its pages as other libraries have them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import cache

import numpy as np
import pypdfium2
from numpy.typing import NDArray
from pdfminer.layout import LTComponent, LTContainer

from render.materials.job import make_job
from render.model import Command, Design, Picture
from render.proof import Proof, make_proof

MM = 72 / 25.4
SCRIPTS = {
    "shop": "Ателье «Игла» Łódź",
    "customer": "نادي التجديف",
    "order": "מועדון חתירה",
    "garment": "polo 上海刺绣",
    "size": "नमस्ते",
    "quantity": "สามสิบหก",
    "due": "한국어 2026",
    "placement": "left chest",
}


def design() -> Design:
    """Two satin columns 20 mm long and 3 mm wide beside each other, each in a colour of its own."""
    step = np.arange(100)
    columns = [np.stack([left + 3.0 * (step % 2), 0.2 * step], 1) for left in (0.0, 6.0)]
    xy = np.concatenate([columns[0], columns[0][-1:], columns[1]])
    command = np.array([Command.STITCH] * 100 + [Command.COLOUR_CHANGE] + [Command.STITCH] * 100, np.uint8)
    return Design(
        "two.dst", "dst", xy, command, ((0.1, 0.2, 0.5), (0.8, 0.2, 0.1)), "explicit", False, "ab" * 32
    )


@cache
def proof() -> Proof:
    return make_proof(design(), make_job(fabric="twill", fabric_colour="#e0d8c8"))


def with_picture(made: Proof, pixels: NDArray[np.uint8]) -> Proof:
    """The proof with a picture of another size, at the same scale."""
    rows, cols = pixels.shape[:2]
    window = replace(made.window, rows=rows, cols=cols)
    return replace(made, picture=Picture(pixels, made.picture.dpi), window=window)


def with_order(made: Proof, facts: dict[str, str], language: str = "en") -> Proof:
    """The proof with other words of the shop, cleaned as the job's are."""
    from render.proof.account import order_of

    return replace(made, account=replace(made.account, order=order_of(facts), language=language))


def boxes(container: LTContainer[LTComponent], kind: type[LTComponent]) -> Iterator[LTComponent]:
    for one in container:
        if isinstance(one, kind):
            yield one
        elif isinstance(one, LTContainer):
            yield from boxes(one, kind)


def raster(data: bytes, page: int, px_per_mm: float) -> NDArray[np.uint8]:
    """A page drawn by another library, `(rows, cols, 3)`."""
    drawn = pypdfium2.PdfDocument(data)[page].render(scale=px_per_mm / MM)
    return np.asarray(drawn.to_pil().convert("RGB"))
