"""What people write into jobs, lists and file names stays text in the pages that are made of it."""

from __future__ import annotations

import io
import tomllib
from dataclasses import replace
from html.parser import HTMLParser
from typing import Any

import numpy as np
import samples
from pypdf import PdfReader
from pypdf.generic import ArrayObject, DictionaryObject, IndirectObject

from render.fit.own_fabric import fabric_file
from render.inspection import report_on
from render.inspection.html import report_html
from render.materials.job import make_job
from render.materials.waivers import waiver_text
from render.model import Command, Design, Picture
from render.write.page import encode_pages

HOSTILE = (
    """<script>alert(1)</script> "><img src=x onerror=alert(1)> ' onload='alert(1) javascript:alert(1) """
    """</title></style><svg onload=alert(1)> <a href="javascript:alert(1)">&lt;b&gt;</a>"""
)


class Markup(HTMLParser):
    """The elements of a page with the names of their attributes; addresses apart."""

    def __init__(self) -> None:
        super().__init__()
        self.elements: list[tuple[str, tuple[str, ...]]] = []
        self.addresses: list[str] = []
        self.said: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, tuple(name for name, _ in attrs)))
        self.addresses += [str(value) for name, value in attrs if name in ("src", "href", "action", "data")]

    def handle_data(self, data: str) -> None:
        self.said.append(data)


def read(page: str) -> Markup:
    markup = Markup()
    markup.feed(page)
    return markup


def design(name: str) -> Design:
    """A satin column 10 mm long; its short start is a fault to report."""
    xy = np.concatenate([[[0.0, 0.0]] * 2, samples.satin(10.0, 3.0)])
    command = np.full(len(xy), Command.STITCH, np.uint8)
    return Design(name, "dst", xy, command, ((0.1, 0.2, 0.5),), "explicit", False, "ab" * 32)


def report(words: str) -> str:
    job = make_job(fabric="twill", fabric_colour="#405060")
    job = replace(job, fabric=replace(job.fabric, title=words))
    return report_html(report_on(design(f"{words}.dst"), job), job)


def test_words_make_no_markup_in_a_report() -> None:
    plain, page = read(report("crest")), read(report(HOSTILE))
    assert page.elements == plain.elements
    assert all(address.startswith("data:image/jpeg;base64,") for address in page.addresses)
    assert len(page.addresses) == len(plain.addresses) > 0
    assert f"{HOSTILE}.dst" in "".join(page.said)


def keys(value: Any, seen: set[int]) -> set[str]:
    """All names in a PDF's objects, from one of them on."""
    if isinstance(value, IndirectObject):
        if value.idnum in seen:
            return set()
        seen.add(value.idnum)
        return keys(value.get_object(), seen)
    if isinstance(value, DictionaryObject):
        return set(value).union(*(keys(value.raw_get(name), seen) for name in value))
    if isinstance(value, ArrayObject):
        return set().union(*(keys(one, seen) for one in value))
    return set()


ACTIVE = {
    "/JS",
    "/JavaScript",
    "/OpenAction",
    "/AA",
    "/A",
    "/URI",
    "/Launch",
    "/AcroForm",
    "/XFA",
    "/EmbeddedFiles",
}


def test_a_printed_page_has_no_actions() -> None:
    page = Picture(np.full((40, 30, 3), 200, np.uint8), 100.0)
    names = keys(PdfReader(io.BytesIO(encode_pages([page, page], "PDF"))).trailer, set())
    assert {"/Root", "/Pages", "/MediaBox"} <= names
    assert not names & ACTIVE


BREAKING = '""" ]\n[stiffness]\nhole_give_mm = 9 # \\ \' \x1b[31m \x7f \u2028'


def test_words_make_no_tables_in_files_of_ones_own() -> None:
    """Names of cloths stand in comments of a fitted fabric, where a line's end would end the comment."""
    numbers = dict.fromkeys(
        (
            *("readings", "columns", "hole_give_mm", "hole_give_before_mm", "hole_give_sigma_mm"),
            *("scatter_between_columns_mm", "misfit_chi_squared", "misfit_degrees_of_freedom"),
            *("uncertainties_widened", "hole_give_change_if_tension_20_percent_higher_mm"),
        ),
        0.5,
    )
    words = dict.fromkeys(("fabric", "stabiliser", "held", "hoop"), BREAKING)
    unsaid = {"needle_tension_n": None, "scatter_on_a_column_mm": None, "tension_fitted": False}
    furthest = {"row": 1, "width_mm": 3, "read_less_fitted_mm": 0.1}
    account = {**numbers, **words, **unsaid, "furthest": furthest}
    fabric = tomllib.loads(fabric_file(account, title=BREAKING, based_on=BREAKING))
    assert set(fabric) == {"title", "based_on", "stiffness"}
    assert fabric["based_on"] == BREAKING
    assert fabric["stiffness"]["hole_give_mm"] == 0.5
    waivers = tomllib.loads(waiver_text("gap", (1.0, 2.0), BREAKING))
    assert [one["why"] for one in waivers["waive"]] == [BREAKING]
