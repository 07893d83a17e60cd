"""The PDF of a proof, read and drawn by libraries that had no part in making it."""

from __future__ import annotations

import io
import re
import unicodedata
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from numpy.typing import NDArray
from pdfminer.high_level import extract_pages
from pdfminer.layout import LTChar, LTComponent, LTContainer, LTImage, LTTextLine
from pypdf import PdfReader, PdfWriter
from pypdf.generic import NameObject
from skimage.color import deltaE_ciede2000, rgb2lab

from render.materials.job import make_job
from render.model import Command, Design, Picture, View
from render.preview import draw_design
from render.proof import Proof, make_proof
from render.proof.account import Order
from render.proof.carried import find_record
from render.proof.pdf import _jpeg, proof_pdf
from render.proof.verify import verify
from render.proof.wording import languages, words_in
from render.read import read_design

MM = 72 / 25.4
EXAMPLES = Path(__file__).parents[2] / "examples"
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
HOSTILE = {
    "shop": "<script>alert(1)</script> **bold** " * 40,
    "customer": "\u202eevil\u202c\x00\x1b[2J (\\) endobj %%EOF stream " + "x" * 5000,
    "order": "{name} %s ${7*7} ]]>&amp;<!-- --> /JS (app.alert(1)) {{x}}",
    "garment": "🧵😀 \ufdd0\U0010ffff polo",
    "placement": "نص طويل " * 300,
    "size": "W" * 500,
    "quantity": "上海" * 400,
    "due": "a\u0300\u0301\u0302" * 200,
    "notes": "\n".join(["line\r\n\f\v\u2028 of many"] * 500),
    "revision": "</x:xmpmeta><?xpacket end='w'?>" * 5,
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


@pytest.mark.parametrize("language", list(languages()))
def test_title_language_and_tags(language: str) -> None:
    data = proof_pdf(with_order(proof(), SCRIPTS, language), operator=True)
    reader = PdfReader(io.BytesIO(data))
    root = reader.trailer["/Root"]
    assert root["/Lang"] == language  # type: ignore[index]
    assert root["/MarkInfo"]["/Marked"]  # type: ignore[index]
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]  # type: ignore[index]
    assert root["/ViewerPreferences"]["/PrintScaling"] == "/None"  # type: ignore[index]
    assert reader.metadata is not None
    assert "نادي التجديف" in str(reader.metadata.title)
    parts = [part.get_object() for part in root["/StructTreeRoot"]["/K"][0].get_object()["/K"]]  # type: ignore[index]
    assert {"/H1", "/H2", "/P", "/Figure"} <= {part["/S"] for part in parts}
    assert all(len(str(part["/Alt"])) > 3 for part in parts if part["/S"] == "/Figure")
    text = " ".join(pypdfium2.PdfDocument(data)[1].get_textpage().get_text_range().split())
    assert words_in(language).say("operator", "caution").replace(" ", "") in text.replace(" ", "")


@pytest.mark.parametrize("word", ["Ателье", "Łódź", "نادي", "חתירה", "上海刺绣", "नमस्ते", "สามสิบหก", "한국어"])
def test_text_in_every_script_is_found(word: str) -> None:
    assert word in _text_of_scripts()


@cache
def _text_of_scripts() -> str:
    data = proof_pdf(with_order(proof(), SCRIPTS))
    return str(pypdfium2.PdfDocument(data)[0].get_textpage().get_text_range())


def test_hostile_words_are_text_within_the_page_and_over_nothing_else() -> None:
    data = proof_pdf(with_order(proof(), HOSTILE), operator=True)
    reader = PdfReader(io.BytesIO(data))
    assert len(reader.pages) == 2
    assert not any(page.get("/Annots") for page in reader.pages)
    names = set(_keys(reader.trailer["/Root"]))
    assert not names & {"/JS", "/JavaScript", "/AA", "/URI", "/Launch", "/AcroForm", "/XFA"}
    # Where it is opened, as some versions of the library say, is a place and no action.
    assert isinstance(reader.trailer["/Root"].get("/OpenAction", []), list)
    assert not names & {"/EmbeddedFiles"}
    text = pypdfium2.PdfDocument(data)[0].get_textpage().get_text_range()
    assert "<script>alert(1)</script> **bold**" in text
    assert "{name}" in text
    for page in extract_pages(io.BytesIO(data)):
        signs = list(boxes(page, LTChar))
        assert min(one.x0 for one in signs) > 10 * MM
        assert max(one.x1 for one in signs) < page.width - 10 * MM
        assert min(one.y0 for one in signs) > 5 * MM
        assert max(one.y1 for one in signs) < page.height - 5 * MM
    for number in range(2):
        assert _overlaps(data, number) == []


def test_the_check_for_overlaps_finds_one() -> None:
    from render.proof.typesetting import Sheets

    sheets = Sheets(title="", language="en", subject="", texts=())
    sheets.new_page(100, 100)
    sheets.line_of_text("one line of text", 10, 10)
    sheets.line_of_text("and one over it", 20, 11)
    assert len(_overlaps(bytes(sheets.output()), 0)) == 1


def _overlaps(data: bytes, number: int) -> list[tuple[str, str]]:
    """Pairs of lines whose x-heights meet, by the boxes of their signs."""
    pages = list(extract_pages(io.BytesIO(data)))
    lines = []
    for line in boxes(pages[number], LTTextLine):
        signs = [one for one in boxes(line, LTChar) if _stands_alone(one.get_text())]  # type: ignore[arg-type, attr-defined]
        if signs:
            base = float(np.median([one.y0 + 0.25 * one.height for one in signs]))
            box = (min(s.x0 for s in signs), base, max(s.x1 for s in signs), base + 0.4 * signs[0].height)
            lines.append((box, line.get_text().strip()))  # type: ignore[attr-defined]
    return [
        (one[1], two[1])
        for at, one in enumerate(lines)
        for two in lines[at + 1 :]
        if min(one[0][2], two[0][2]) > max(one[0][0], two[0][0]) + 0.5
        and min(one[0][3], two[0][3]) > max(one[0][1], two[0][1]) + 0.3
    ]


def _stands_alone(text: str) -> bool:
    """Whether a sign takes a place of its own: marks are set over others on purpose."""
    return bool(text.strip()) and not any(unicodedata.category(one).startswith("M") for one in text)


def _keys(value: object, depth: int = 0) -> Iterator[str]:
    """Names of all dictionary entries under a PDF object, but for the way up."""
    if hasattr(value, "get_object"):
        value = value.get_object()
    if isinstance(value, dict) and depth < 12:
        for key, inner in value.items():
            yield key
            if key not in ("/Parent", "/P", "/Pg"):
                yield from _keys(inner, depth + 1)
    elif isinstance(value, list) and depth < 12:
        for inner in value:
            yield from _keys(inner, depth + 1)


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
