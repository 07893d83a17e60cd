"""The account in words says what the account in figures says."""

from __future__ import annotations

from typing import Any

import pytest

from render.colour import hex_colour
from render.report import summary


def account(**changes: Any) -> dict[str, Any]:
    return {
        "name": "crest.dst",
        "format": "DST",
        "stitches": 9012,
        "width_mm": 84.04,
        "height_mm": 83.96,
        "colour_blocks": 1,
        "trims": 2,
        "threads": [],
        "uncut_jumps": [],
        "notes": [],
        "order": {},
        "fabric": "pique",
        "fabric_colour": "#1f4d3a",
        "sewing": {
            "as_programmed": False,
            "stabiliser": "cut-away",
            "hoop": "square-130",
            "held": "hooped",
            "in_hoop": True,
        },
        "light": "soft-studio",
        "machine": "unknown",
        "finish": "cleaned",
        **changes,
    }


def jump(length_mm: float, cut: str) -> dict[str, Any]:
    return {"length_mm": length_mm, "cut": cut}


def words(**changes: Any) -> list[str]:
    return list(summary(account(**changes), lambda _: ""))


def test_first_line_has_the_facts() -> None:
    assert words()[0] == "crest.dst: DST, 9,012 stitches, 84.0 x 84.0 mm, 1 colour block, 2 trims"
    assert "1 stitch," in words(stitches=1)[0]


def test_second_line_says_on_what_it_was_reckoned() -> None:
    end = "; light soft-studio, machine unknown, cleaned"
    assert words()[1] == f"on pique #1f4d3a: cut-away, hooped, hoop square-130{end}"
    assert words(sewing={"as_programmed": True})[1] == f"on pique #1f4d3a: as programmed{end}"


def test_the_order_comes_first_and_cannot_steer_the_terminal() -> None:
    order = {"customer": "Otter\x1b[2J\nand Oar", "order": "2041"}
    assert words(order=order)[0] == "customer: Otter [2J and Oar; order: 2041"


@pytest.mark.parametrize(
    ("jumps", "line"),
    [
        ([jump(3, "no")], "1 uncut jump, the longest 3.0 mm"),
        ([jump(3, "depends")], "1 uncut jump, the longest 3.0 mm; whether it is cut depends on the machine"),
        (
            [jump(3, "depends"), jump(7.25, "depends")],
            "2 uncut jumps, the longest 7.2 mm; whether they are cut depends on the machine",
        ),
        (
            [jump(3, "no"), jump(7.25, "depends")],
            "2 uncut jumps, the longest 7.2 mm; whether 1 of them is cut depends on the machine",
        ),
    ],
)
def test_uncut_jumps(jumps: list[dict[str, Any]], line: str) -> None:
    assert words(uncut_jumps=jumps)[2] == line


def test_thread_line_says_where_the_shop_finds_it() -> None:
    thread = {
        "block": 1,
        "colour": "#c02030",
        "words": "red",
        "kind": "matte-polyester",
        "tex": 26.667,
        "stitches": 1200,
        "label": "fire, shelf 3",
        "needle": 4,
    }
    (line,) = words(threads=[thread])[2:]
    assert line.split()[1] == "#c02030"
    assert line.endswith("matte polyester, 26.7 tex, 1,200 stitches (needle 4: fire, shelf 3)")
    (bare,) = words(threads=[{**thread, "needle": None, "label": ""}])[2:]
    assert bare.endswith("stitches")


def test_notes_come_last() -> None:
    assert words(notes=["a", "b"])[2:] == ["note: a", "note: b"]


def test_hex_colour_rounds() -> None:
    assert hex_colour((1.0, 0.5, 0.0)) == "#ff8000"
