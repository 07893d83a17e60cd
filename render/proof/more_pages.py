"""What the customer's page has no room for: a long list of threads, and a large design at true size."""

from __future__ import annotations

from typing import TYPE_CHECKING

from render.proof.blocks import LISTS, SMALL_PT, ListShape, ruler, thread_list
from render.proof.customer_page import EDGE_MM, heading
from render.proof.sentences import alt_text
from render.proof.typesetting import SOFT

if TYPE_CHECKING:
    from render.proof.customer_page import PageInput
    from render.proof.typesetting import Sheets


def threads_pages(sheets: Sheets, given: PageInput) -> None:
    """All threads on as many pages as they take."""
    width, height = given.page_mm
    threads, swatches = given.account.threads, given.swatches
    columns, row_mm = LISTS[1]
    shape = ListShape(columns, int((height - 2 * EDGE_MM - 12) / row_mm), row_mm)
    for first in range(0, len(threads), columns * shape.rows):
        sheets.new_page(width, height)
        inner = width - 2 * EDGE_MM
        y = heading(sheets, given.words.say("label", "threads"), EDGE_MM, EDGE_MM, inner)
        part = slice(first, first + columns * shape.rows)
        thread_list(
            sheets, threads[part], swatches[part], given.words, place=(EDGE_MM, y), width=inner, shape=shape
        )


def true_size_page(sheets: Sheets, given: PageInput) -> None:
    """The picture at true size on a page as large as it takes."""
    words = given.words
    wide, high = given.size_mm
    page = max(given.page_mm[0], wide + 2 * EDGE_MM), max(given.page_mm[1], high + 2 * EDGE_MM + 24)
    sheets.new_page(*page)
    y = heading(
        sheets, words.say("picture", "true_size").rstrip(".。"), EDGE_MM, EDGE_MM, page[0] - 2 * EDGE_MM
    )
    sheets.picture(given.picture, EDGE_MM, y, wide, high, alt=alt_text(given.account, words))
    long = max(10, int(wide // 10) * 10)
    y = ruler(sheets, EDGE_MM, y + high + 7.0, long)
    said = words.say("picture", "ruler", length=words.mm(long, 0))
    sheets.line_of_text(said, EDGE_MM, y + 0.4, size_pt=SMALL_PT, ink=SOFT)
