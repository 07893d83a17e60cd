"""The customer's page: what it will look like, how large, in which threads, and where to sign."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from render.proof.blocks import (
    FACT_PT,
    LABEL_PT,
    SMALL_PT,
    design_facts,
    fact,
    fact_grid,
    grouped,
    order_facts,
    ruler,
    settings_text,
    thread_list,
)
from render.proof.fitting import (
    BESIDE_MM,
    DRAWN_FACTS_MM,
    GAP_MM,
    LIST_HEAD_MM,
    NARROWEST_MM,
    Sizes,
    fit_page,
)
from render.proof.garment import draw_placement, placement_of
from render.proof.sentences import alt_text, cautions, remark_lines
from render.proof.typesetting import INK, SOFT, line_height

if TYPE_CHECKING:
    from collections.abc import Sequence

    from render.model import Colour
    from render.proof.account import ProofAccount, ProofThread
    from render.proof.fitting import Fit
    from render.proof.garment import Placement
    from render.proof.typesetting import Sheets
    from render.proof.wording import Words

EDGE_MM = 14.0
BESIDE_LINES, BESIDE_AIR_MM = 3, 1.4  # of a fact beside the picture
LEAST_DRAWING_MM = 20.0
APPROVAL_MM = 32.0
MOST_AIR_MM = 12.0  # where there is room to spare
MOST_REMARKS, NOTES_LINES = 5, 4


@dataclass(frozen=True, slots=True, eq=False)
class PageInput:
    """What the pages are set from. The picture is a JPEG of `size_mm`, width and height, at true size;
    `cloth_srgb` the cloth's colour as it looks in it."""

    account: ProofAccount
    words: Words
    picture: bytes
    size_mm: tuple[float, float]
    swatches: Sequence[bytes]
    cloth_srgb: Colour
    page_mm: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Rest:
    """What has found no place on the first page: threads for a list of their own, and whether the
    picture is still owed at true size."""

    threads: tuple[ProofThread, ...]
    true_size: bool


def customer_page(sheets: Sheets, given: PageInput) -> Rest:
    """Set the page and say what is left for others."""
    account, words = given.account, given.words
    width, height = given.page_mm
    sheets.new_page(width, height)
    inner = width - 2 * EDGE_MM
    top = _head(sheets, account, words, inner)
    foot = _foot(sheets, account, words, height, inner)
    approval = foot - APPROVAL_MM - 4
    _approval(sheets, words, EDGE_MM, approval, inner)
    remarks = approval - _remarks_height(sheets, given, inner) - 4
    place = placement_of(account)
    fit = fit_page(
        Sizes(
            picture=given.size_mm,
            beside=_beside_height(sheets, given),
            drawing=place is not None,
            threads=len(account.threads),
        ),
        inner,
        remarks - top,
    )
    listed = 0.0 if fit.shape is None else fit.shape.height_mm + LIST_HEAD_MM
    air = (remarks - top - fit.height_mm - listed) / 3
    below = _picture_and_facts(sheets, given, fit, top + min(max(air - 4, 0), MOST_AIR_MM), inner, place)
    if fit.shape is not None:
        y = min(remarks - listed, below + min(max(air, 1), MOST_AIR_MM))
        y = heading(sheets, words.say("label", "threads"), EDGE_MM, y, inner)
        corner = (EDGE_MM, y)
        thread_list(
            sheets, account.threads, given.swatches, words, place=corner, width=inner, shape=fit.shape
        )
    _remarks(sheets, given, EDGE_MM, remarks, inner, continued=fit.shape is None)
    return Rest(() if fit.shape is not None else account.threads, fit.scale < 1)


def _picture_and_facts(
    sheets: Sheets, given: PageInput, fit: Fit, top: float, inner: float, place: Placement | None
) -> float:
    """The picture, with the facts beside or below it; `y` below both."""
    shown = given.size_mm[0] * fit.scale
    if fit.beside:
        below = _picture(sheets, given, EDGE_MM, top, fit.scale)
        x = EDGE_MM + max(shown, NARROWEST_MM) + GAP_MM
        _beside(sheets, given, place, x, top, EDGE_MM + inner - x, fit.height_mm)
        return max(below, top + fit.height_mm)
    below = _picture(sheets, given, EDGE_MM + (inner - shown) / 2, top, fit.scale)
    facts = [
        (label, value.replace("\n", "  ·  ")) for label, value in design_facts(given.account, given.words)
    ]
    placement = given.account.order.placement
    if placement:
        facts.append((given.words.say("label", "placement"), placement))
    if place is None or not fit.drawing:
        return fact_grid(sheets, facts, EDGE_MM, below + 1, inner, columns=4 if placement else 3)
    drawn = 52.0
    draw_placement(sheets, place, given, EDGE_MM + inner - drawn, below + 1, drawn, DRAWN_FACTS_MM - 3)
    end = fact_grid(sheets, facts, EDGE_MM, below + 1, inner - drawn - 6, columns=2)
    return max(end, below + DRAWN_FACTS_MM)


def _head(sheets: Sheets, account: ProofAccount, words: Words, inner: float) -> float:
    order, y = account.order, EDGE_MM - 1
    proof = words.say("label", "proof")
    right = EDGE_MM + inner
    if order.shop:
        sheets.line_of_text(order.shop, EDGE_MM, y, size_pt=16, bold=True, width=inner - 62)
        sheets.line_of_text(proof, right, y + 0.2, size_pt=11, align="right", tag="H1", width=60)
    else:
        sheets.line_of_text(proof, EDGE_MM, y, size_pt=16, bold=True, tag="H1", width=inner - 62)
    under = [words.say("label", "simulated")]
    if order.revision:
        under.insert(0, f"{words.say('label', 'revision')} {order.revision}")
    sheets.parts_of_line(under, right, y + 5.6, size_pt=8, ink=SOFT, width=70)
    y += 11.5
    sheets.rule(EDGE_MM, y, right, y, ink=INK, width_mm=0.35)
    facts = order_facts(account, words)
    y += 3.5
    return fact_grid(sheets, facts, EDGE_MM, y, inner + 4, columns=min(len(facts), 4)) + 2 if facts else y


def _picture(sheets: Sheets, given: PageInput, x: float, y: float, scale: float) -> float:
    """The picture with its ruler; `y` below both."""
    account, words = given.account, given.words
    width, height = given.size_mm[0] * scale, given.size_mm[1] * scale
    sheets.picture(given.picture, x, y, width, height, alt=alt_text(account, words))
    long = max(50, int(min(given.size_mm[0], 150.0 / scale) // 10) * 10)
    y = ruler(sheets, x, y + height + 7.0, long, scale=scale)
    if scale == 1.0:
        size = words.say("picture", "true_size")
        said = f"{size} {words.say('picture', 'ruler', length=words.mm(long, 0))}"
    else:
        said = words.say("picture", "scaled", percent=words.number(100 * scale))
    room = max(width, NARROWEST_MM)
    return 1.0 + sheets.paragraph(said, x, y + 0.4, room, size_pt=SMALL_PT, ink=SOFT, most_lines=2)


def _beside_facts(given: PageInput) -> list[tuple[str, str]]:
    facts = design_facts(given.account, given.words)
    placement = given.account.order.placement
    return [*facts, (given.words.say("label", "placement"), placement)] if placement else facts


def _beside_height(sheets: Sheets, given: PageInput) -> float:
    """How high the facts are in the narrowest column beside a picture."""
    lines = sum(
        len(sheets.wrapped(value, BESIDE_MM, FACT_PT, most_lines=BESIDE_LINES))
        for _, value in _beside_facts(given)
    )
    each = line_height(LABEL_PT) + BESIDE_AIR_MM
    return lines * line_height(FACT_PT) + len(_beside_facts(given)) * each


def _beside(
    sheets: Sheets,
    given: PageInput,
    place: Placement | None,
    x: float,
    y: float,
    width: float,
    room: float,
) -> None:
    """Facts, and below them where it goes on the garment."""
    bottom = y + room
    for label, value in _beside_facts(given):
        y = fact(sheets, label, value, x, y, width, most_lines=BESIDE_LINES) + BESIDE_AIR_MM
    if place is not None and bottom - y >= LEAST_DRAWING_MM:
        draw_placement(sheets, place, given, x, y + 1.5, width, min(bottom - y - 1.5, 46.0))


def heading(sheets: Sheets, text: str, x: float, y: float, width: float) -> float:
    """A heading over a thin line; `y` where what it heads begins."""
    sheets.line_of_text(text, x, y, size_pt=8.5, bold=True, width=width, tag="H2")
    y += line_height(8.5) + 0.4
    sheets.rule(x, y, x + width, y)
    return y + 2.4


def _remarks_height(sheets: Sheets, given: PageInput, inner: float) -> float:
    lines = sum(
        len(sheets.wrapped(line, inner - 4, 8.5, most_lines=2))
        for line in remark_lines(given.account, given.words)[:MOST_REMARKS]
    )
    most = f"{given.words.say('text', 'continued', number=2)} {cautions(given.words)}"
    small = len(sheets.wrapped(most, inner, SMALL_PT))
    notes = given.account.order.notes
    noted = len(sheets.wrapped(notes, inner - 25, 8.5, most_lines=NOTES_LINES)) if notes else 0
    return (
        7.0 + (lines + noted) * line_height(8.5) + small * line_height(SMALL_PT) + (1.5 if noted else 0) + 1.5
    )


def _remarks(sheets: Sheets, given: PageInput, x: float, y: float, width: float, *, continued: bool) -> None:
    words, account = given.words, given.account
    y = heading(sheets, words.say("label", "good_to_know"), x, y, width) - 0.6
    for line in remark_lines(account, words)[:MOST_REMARKS]:
        sheets.line_of_text("–", x, y, size_pt=8.5)
        y = sheets.paragraph(line, x + 4, y, width - 4, size_pt=8.5, most_lines=2)
    if account.order.notes:
        y += 1.5
        sheets.line_of_text(words.say("label", "notes"), x, y, size_pt=8.5, ink=SOFT, width=22)
        y = sheets.paragraph(account.order.notes, x + 25, y, width - 25, size_pt=8.5, most_lines=NOTES_LINES)
    said = cautions(words)
    if continued:
        said = f"{words.say('text', 'continued', number=2)} {said}"
    sheets.paragraph(said, x, y + 1.2, width, size_pt=SMALL_PT, ink=SOFT)


def _approval(sheets: Sheets, words: Words, x: float, y: float, width: float) -> None:
    """Where the customer says yes or no, and signs."""
    sheets.frame(x, y, width, APPROVAL_MM, ink=INK, corner=1.5, line_mm=0.3)
    sheets.line_of_text(words.say("approval", "title"), x + 5, y + 3, size_pt=11, bold=True, tag="H2")
    sheets.line_of_text(
        words.say("approval", "checked"),
        x + width - 5,
        y + 3.8,
        size_pt=8,
        ink=SOFT,
        align="right",
        width=width - 60,
    )
    row = y + 10.5
    half = width * 0.4
    for key, left in (("approve", x + 5), ("change", x + 5 + half)):
        sheets.frame(left, row + 0.3, 3.6, 3.6, ink=INK, line_mm=0.25)
        sheets.line_of_text(words.say("approval", key), left + 6, row, size_pt=9, width=half - 10)
    written = sheets.width_of(words.say("approval", "change"), 9)
    start = x + 5 + half + 8 + min(written, half - 10)
    sheets.rule(start, row + 4.2, x + width - 5, row + 4.2, ink=SOFT)
    line = y + APPROVAL_MM - 7.2
    spans = ((0.0, 0.34, "name"), (0.37, 0.76, "signature"), (0.79, 1.0, "date"))
    inner = width - 10
    for start, end, key in spans:
        sheets.rule(x + 5 + inner * start, line, x + 5 + inner * end, line, ink=SOFT)
        sheets.line_of_text(
            words.say("approval", key), x + 5 + inner * start, line + 0.8, size_pt=LABEL_PT, ink=SOFT
        )


def _foot(sheets: Sheets, account: ProofAccount, words: Words, height: float, inner: float) -> float:
    """The two fingerprints and the settings at the foot; where they start."""
    size = 6.0
    settings = f"{words.say('label', 'settings')}: {settings_text(account)}"
    lines = sheets.wrapped(settings, inner, size, most_lines=3)
    top = height - EDGE_MM + 4 - (3 + len(lines)) * line_height(size)
    prints = account.fingerprints
    y = top
    sheets.line_of_text(words.say("text", "fingerprints"), EDGE_MM, y, size_pt=size, ink=SOFT, width=inner)
    for key, code in (("file_print", prints.file), ("stitch_print", prints.stitches)):
        y += line_height(size)
        sheets.line_of_text(words.say("label", key), EDGE_MM, y, size_pt=size, ink=SOFT, width=34)
        sheets.line_of_text(grouped(code), EDGE_MM + 36, y, size_pt=size, width=inner - 36)
    y += line_height(size)
    for line in lines:
        sheets.line_of_text(line, EDGE_MM, y, size_pt=size, ink=SOFT)
        y += line_height(size)
    return top
