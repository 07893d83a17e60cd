"""The proof as a PDF: a page for the customer, what it has no room for, and a page for the machine."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Literal

import numpy as np

from render.proof.carried import record_text, xmp_packet
from render.proof.customer_page import EDGE_MM, PageInput, customer_page
from render.proof.more_pages import threads_pages, true_size_page
from render.proof.operator_page import operator_page
from render.proof.typesetting import Sheets
from render.proof.wording import words_in
from render.write.picture import encode_jpeg, halved

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Colour
    from render.proof import Proof

Paper = Literal["a4", "letter"]
# ISO 216 and ANSI/ASME Y14.1, exactly: 595.276 x 841.890 and 612 x 792 points.
PAPERS_MM: dict[Paper, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
MOST_BYTES = 3_800_000  # of the picture, so that the whole stays under 5 MB
QUALITIES = (92, 88, 84, 78, 70, 60, 50)


def proof_pdf(proof: Proof, *, paper: Paper = "a4", operator: bool = False) -> bytes:
    """The bytes of the PDF; the same proof makes the same bytes. `operator` adds the page for the machine."""
    account, words = proof.account, words_in(proof.account.language)
    rows, cols = proof.picture.pixels.shape[:2]
    given = PageInput(
        account=account,
        words=words,
        picture=_jpeg(proof.picture.pixels),
        size_mm=(cols / proof.window.px_per_mm, rows / proof.window.px_per_mm),
        swatches=[encode_jpeg(swatch.pixels, 90) for swatch in proof.swatches],
        cloth_srgb=_cloth_colour(proof.picture.pixels),
        page_mm=PAPERS_MM[paper],
    )
    title = " – ".join(
        part for part in (words.say("label", "proof"), account.order.customer, account.name) if part
    )
    sheets = Sheets(
        title=title,
        language=account.language,
        subject=words.say("text", "simulated"),
        texts=_texts(proof),
    )
    sheets.set_xmp_metadata(xmp_packet(title, account.language, record_text(account)))
    rest = customer_page(sheets, given)
    if rest.threads:
        threads_pages(sheets, given)
    if operator:
        operator_page(sheets, given)
    if rest.true_size:
        true_size_page(sheets, given)
    sheets.number_pages(lambda number, count: words.say("label", "page", number=number, count=count), EDGE_MM)
    return bytes(sheets.output())


def _texts(proof: Proof) -> list[str]:
    """All that others wrote, and the words of the language: what fonts are needed for."""
    account, words = proof.account, words_in(proof.account.language)
    own = [text for table in words.tables.values() for text in table.values()]
    labels = [thread.label for thread in account.threads]
    return [*asdict(account.order).values(), account.name, account.cloth.fabric_title, *labels, *own]


def _jpeg(pixels: NDArray[np.uint8]) -> bytes:
    """The picture at the best quality, and then at the finest scale, that keeps the file small enough
    to mail."""
    while True:
        for quality in QUALITIES:
            data = encode_jpeg(pixels, quality)
            if len(data) <= MOST_BYTES:
                return data
        pixels = halved(pixels)


def _cloth_colour(pixels: NDArray[np.uint8]) -> Colour:
    """The mean colour of the picture's edge, which is cloth."""
    edge = np.concatenate([pixels[:8].reshape(-1, 3), pixels[-8:].reshape(-1, 3)])
    red, green, blue = (float(part) / 255 for part in edge.mean(0))
    return red, green, blue
