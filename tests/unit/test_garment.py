"""Which garment is drawn, and where the design goes on it, after an order's own words."""

from __future__ import annotations

import re
from types import SimpleNamespace
from typing import Any, cast

import pytest

from render.materials.presets import preset
from render.proof.account import Order
from render.proof.garment import Placement, placement_of

GARMENTS = preset("garments.toml")["garment"]


def placed(garment: str, placement: str, *, cap: bool = False) -> Placement | None:
    order = Order(garment=garment, placement=placement)
    return placement_of(cast(Any, SimpleNamespace(order=order, cloth=SimpleNamespace(cap=cap))))


@pytest.mark.parametrize(
    ("garment", "placement", "drawn", "part"),
    [
        ("polo, piqué, bottle green", "left chest, 9 cm below the shoulder seam", "polo", "left-chest"),
        ("Polohemd", "rechte Brust", "polo", "right-chest"),
        ("T-Shirt", "Rücken", "shirt", "back"),
        ("camiseta", "manga derecha", "shirt", "right-sleeve"),
        ("sweat à capuche", "poitrine gauche", "sweatshirt", "left-chest"),
        ("Jaqueta", "costas, parte superior", "jacket", "upper-back"),
        ("夹克", "左胸", "jacket", "left-chest"),
        ("T恤", "后背", "shirt", "back"),
        ("shirt", "back of the neck", "shirt", "nape"),
        ("hoodie", "", "sweatshirt", None),
        ("gorra", "", "cap", "front"),
        ("towel", "along the border", "towel", "front"),
    ],
)
def test_words_of_the_order_name_garment_and_place(
    garment: str, placement: str, drawn: str, part: str | None
) -> None:
    found = placed(garment, placement)
    if part is None:
        assert found is None
        return
    assert found is not None
    assert found.garment == drawn
    place = next(one for one in GARMENTS if one["name"] == drawn)["place"]
    assert found.at_mm == tuple(place[part])


def test_the_wearers_left_is_on_the_right_of_who_looks() -> None:
    left, right = placed("polo", "left chest"), placed("polo", "right chest")
    assert left is not None
    assert right is not None
    assert left.at_mm[0] > 0 > right.at_mm[0]


def test_a_cap_frame_is_enough_to_draw_a_cap() -> None:
    assert placed("", "") is None
    found = placed("", "", cap=True)
    assert found is not None
    assert found.garment == "cap"


@pytest.mark.parametrize("garment", ["", "kilt", "chapel banner", "kapok", "escape suit"])
def test_what_is_not_known_is_not_drawn(garment: str) -> None:
    assert placed(garment, "left chest") is None


@pytest.mark.parametrize("garment", GARMENTS, ids=lambda one: str(one["name"]))
def test_drawings_are_closed_paths_with_every_place_on_them(garment: dict[str, Any]) -> None:
    outline = garment["outline"]
    assert re.fullmatch(r"M( -?\d+){2}( L( -?\d+){2}| C( -?\d+){6})+ Z", outline)
    for seam in (*garment["front"], *garment["back"]):
        assert re.fullmatch(r"M( -?\d+){2}( L( -?\d+){2}| C( -?\d+){6})+( Z)?", seam)
    numbers = [float(one) for one in re.findall(r"-?\d+", outline)]
    xs, ys = numbers[::2], numbers[1::2]
    assert min(xs) == -max(xs)  # garments are alike on both sides
    for name, place in garment["place"].items():
        if name != "usual":
            assert min(xs) < place[0] < max(xs)
            assert min(ys) < place[1] < max(ys)
