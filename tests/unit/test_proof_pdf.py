"""The PDF of a proof, read and drawn by libraries that had no part in making it."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from numpy.typing import NDArray
from pdfminer.high_level import extract_pages
from pdfminer.layout import LTImage
from proof_pages import MM, SCRIPTS, boxes, design, proof, raster, with_order, with_picture
from pypdf import PdfReader, PdfWriter
from pypdf.generic import NameObject
from skimage.color import deltaE_ciede2000, rgb2lab

from render.materials.job import make_job
from render.model import View
from render.preview import draw_design
from render.proof import make_proof
from render.proof.account import Order
from render.proof.carried import find_record
from render.proof.pdf import _jpeg, proof_pdf
from render.proof.remarks import Watch
from render.proof.verify import verify
from render.read import read_design

EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.mark.parametrize(
    ("paper", "points"),
    # ISO 216: 210 x 297 mm at 72/25.4 points a mm; ANSI/ASME Y14.1: 8.5 x 11 in.
    [("a4", (595.276, 841.890)), ("letter", (612.0, 792.0))],
)
def test_pages_have_their_size_to_a_hundredth_of_a_point(paper: str, points: tuple[float, float]) -> None:
    pages = PdfReader(io.BytesIO(proof_pdf(proof(), paper=paper, operator=True))).pages  # type: ignore[arg-type]
    assert len(pages) == 2
    for page in pages:
        assert [float(side) for side in page.mediabox[2:]] == pytest.approx(points, abs=0.01)


def test_the_picture_is_at_true_size() -> None:
    made = proof()
    rows, cols = made.picture.pixels.shape[:2]
    # Needle points of 9 x 19.8 mm with 6 mm of cloth around them.
    assert (cols / 12, rows / 12) == pytest.approx((21.0, 31.8), abs=0.1)
    (page, *_) = extract_pages(io.BytesIO(proof_pdf(made)))
    largest = max(boxes(page, LTImage), key=lambda image: image.width)
    assert largest.width / MM == pytest.approx(21.0, abs=0.1)
    assert largest.height / MM == pytest.approx(31.8, abs=0.1)


def test_a_ruler_is_as_long_as_it_says() -> None:
    """Its outermost ticks on the page as drawn, against the numbers under them as text."""
    data = proof_pdf(proof())
    (page, *_) = extract_pages(io.BytesIO(data))
    text = " ".join(pypdfium2.PdfDocument(data)[0].get_textpage().get_text_range().split())
    said = re.search(r"this ruler is (\d+) mm long", text)
    assert said
    picture = max(boxes(page, LTImage), key=lambda image: image.width)
    px = 40.0
    drawn = raster(data, 0, px)
    below = round((page.height - picture.y0) / MM * px)
    strip = drawn[below : below + round(8 * px), : round(100 * px)].mean(2) < 128
    row = strip.sum(1).argmax()
    dark = np.flatnonzero(strip[row])
    assert (dark[-1] - dark[0] + 1) / px == pytest.approx(float(said[1]), abs=0.25)  # with the line's width


def test_numbers_on_the_operators_picture_are_told_of_where_there_are_some() -> None:
    made = proof()

    def said(*watch: Watch) -> str:
        data = proof_pdf(replace(made, account=replace(made.account, watch=watch)), operator=True)
        return " ".join(pypdfium2.PdfDocument(data)[1].get_textpage().get_text_range().split())

    told = "numbers are the places to watch"
    assert told not in said()
    assert "The ring marks the first stitch." in said()
    assert told in said(Watch("gap", 0.2, 1, (1.0, 1.0), grave=False))


def colour_difference(data: bytes, pixels: NDArray[np.uint8], *, upside_down: bool = False) -> float:
    """Mean CIEDE2000 between a picture at 12 px/mm and the page as drawn, over patches of 1 mm."""
    (page, *_) = extract_pages(io.BytesIO(data))
    picture = max(boxes(page, LTImage), key=lambda image: image.width)
    # Twice as fine and nothing but the picture, so that its patches and ours lie on each other.
    cut = (picture.x0, picture.y0, page.width - picture.x1, page.height - picture.y1)
    drawn = np.asarray(pypdfium2.PdfDocument(data)[0].render(scale=24 / MM, crop=cut).to_pil().convert("RGB"))
    rows, cols = (side // 12 for side in pixels.shape[:2])
    labs = [
        rgb2lab(one[: rows * px, : cols * px].reshape(rows, px, cols, px, 3).mean((1, 3)) / 255.0)
        for one, px in ((pixels, 12), (drawn, 24))
    ]
    return float(deltaE_ciede2000(labs[0], labs[1][::-1] if upside_down else labs[1]).mean())


def test_the_picture_keeps_its_colours() -> None:
    made = proof()
    data = proof_pdf(made)
    assert colour_difference(data, made.picture.pixels) < 1.0
    assert colour_difference(data, made.picture.pixels, upside_down=True) > 1.0  # it can tell


@pytest.mark.slow
def test_the_crest_on_the_page_is_the_crest_as_drawn() -> None:
    job = make_job(str(EXAMPLES / "crest.job.toml"))
    crest = read_design(str(EXAMPLES / "crest.dst"))
    data = proof_pdf(make_proof(crest, job), operator=True)
    alone = draw_design(crest, job, View(dpi=12 * 25.4)).picture
    assert colour_difference(data, alone.pixels) < 1.0
    assert len(data) < 5_000_000


def test_fonts_are_embedded_and_colours_are_srgb() -> None:
    reader = PdfReader(io.BytesIO(proof_pdf(with_order(proof(), SCRIPTS), operator=True)))
    fonts = [
        font.get_object()["/DescendantFonts"][0].get_object()["/FontDescriptor"].get_object()
        for page in reader.pages
        for font in page["/Resources"]["/Font"].values()  # type: ignore[index, union-attr]
    ]
    assert len(fonts) >= 6
    assert all("/FontFile2" in font for font in fonts)
    (intent,) = reader.trailer["/Root"]["/OutputIntents"]  # type: ignore[index]
    profile = intent.get_object()["/DestOutputProfile"].get_object()
    assert profile["/N"] == 3
    assert b"sRGB" in profile.get_data() or b"s\x00R\x00G\x00B" in profile.get_data()


def test_many_threads_go_to_a_page_of_their_own_and_all_are_listed() -> None:
    made = with_order(proof(), {"shop": "Needle Lane"})
    (one, _), account = made.account.threads, made.account
    threads = tuple(replace(one, number=number + 1) for number in range(90))
    made = replace(made, account=replace(account, threads=threads), swatches=made.swatches[:1] * 90)
    document = pypdfium2.PdfDocument(proof_pdf(made))
    assert len(document) == 3
    text = "".join(document[page].get_textpage().get_text_range() for page in (1, 2))
    assert {int(number) for number in re.findall(r"(?<![#\d.])\d+\b", text)} >= set(range(1, 91))
    assert "page 2" in document[0].get_textpage().get_text_range()


@pytest.mark.parametrize(("rows", "cols"), [(3360, 3360), (600, 5400), (3000, 400)])
def test_a_large_design_is_shown_whole_and_again_at_true_size(rows: int, cols: int) -> None:
    small = proof().picture.pixels[80:180, 70:170]
    pixels = np.tile(small, (-(-rows // 100), -(-cols // 100), 1))[:rows, :cols]
    data = proof_pdf(with_picture(proof(), pixels))
    assert len(data) < 5_000_000
    first, last = extract_pages(io.BytesIO(data))
    whole, true = (max(boxes(page, LTImage), key=lambda image: image.height) for page in (first, last))
    assert whole.x1 < first.width
    assert whole.y1 < first.height
    assert whole.width / whole.height == pytest.approx(cols / rows, rel=2e-3)
    assert (true.width / MM, true.height / MM) == pytest.approx((cols / 12, rows / 12), abs=0.1)
    assert last.width / MM >= cols / 12 + 20
    shown = re.search(r"Shown at (\d+) %", pypdfium2.PdfDocument(data)[0].get_textpage().get_text_range())
    assert shown
    assert int(shown[1]) == pytest.approx(100 * whole.height / true.height, abs=0.6)


def test_a_picture_that_packs_badly_is_made_smaller_until_it_can_be_mailed() -> None:
    noise = np.random.default_rng(3).integers(0, 256, (2600, 2600, 3), np.uint8)
    assert len(_jpeg(noise)) < 4_000_000


def test_the_record_survives_saving_by_another_program() -> None:
    writer = PdfWriter(clone_from=io.BytesIO(proof_pdf(proof())))
    for page in writer.pages:
        page.compress_content_streams()
    metadata = writer._root_object["/Metadata"].get_object()
    packed = metadata.flate_encode()  # type: ignore[attr-defined]
    writer._root_object[NameObject("/Metadata")] = writer._add_object(packed)
    saved = io.BytesIO()
    writer.write(saved)
    record = find_record(saved.getvalue())
    assert record is not None
    assert verify(record, design()).verdict == "same file"


def test_nothing_of_the_clock_is_in_it() -> None:
    reader = PdfReader(io.BytesIO(proof_pdf(proof())))
    assert reader.metadata is not None
    assert reader.metadata.creation_date is not None
    assert reader.metadata.creation_date.year == 2000
    assert reader.metadata.modification_date is None


def test_orders_of_the_account_are_cleaned() -> None:
    from render.proof.account import order_of

    assert order_of({"shop": "a\x00b", "notes": "one\ntwo", "colour": "no"}) == Order(
        shop="a b", notes="one\ntwo"
    )
