"""A shop's own fabric as one file that is based on another."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from render.errors import InputError
from render.materials.fabrics import load_fabric, textures_folder
from render.materials.stabilisers import load_hoop, make_holding


def own(tmp_path: Path, text: str) -> str:
    path = tmp_path / "our-own.toml"
    path.write_text(text)
    return str(path)


def test_it_is_the_other_but_for_what_it_says(tmp_path: Path) -> None:
    place = own(tmp_path, 'based_on = "jersey"\n[stiffness]\nhole_give_mm = 0.31\nsource = "measured"\n')
    assert load_fabric(place) == replace(load_fabric("jersey"), name="our-own", hole_give_mm=0.31)


def test_its_tension_multiplies_what_is_left_in_a_stitch(tmp_path: Path) -> None:
    place = own(tmp_path, 'title = "Ours"\nbased_on = "jersey"\n[stiffness]\ntension_ratio = 1.5\n')
    hoop = load_hoop("square-130")
    ours, usual = (make_holding(load_fabric(name), hoop=hoop) for name in (place, "jersey"))
    assert ours.fabric.title == "Ours"
    assert ours.tension_n == pytest.approx(1.5 * usual.tension_n)
    gauged = make_holding(load_fabric(place), hoop=hoop, gauge_n=2.3)
    assert gauged.tension_n == pytest.approx(2 * ours.tension_n)


def test_a_folder_beside_it_can_be_the_other(tmp_path: Path) -> None:
    (tmp_path / "club").mkdir()
    (tmp_path / "club" / "fabric.toml").write_text((textures_folder() / "twill" / "fabric.toml").read_text())
    place = own(tmp_path, 'based_on = "club"\n[stiffness]\nhole_give_mm = 0.1\n')
    assert load_fabric(place).structure == load_fabric("twill").structure


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("[stiffness]\nhole_give_mm = 0.3\n", r"based_on must name a fabric, or a folder beside .* not None"),
        ('based_on = "other.toml"\n[stiffness]\n', r"based_on must name a fabric"),
        ("based_on = 3\n[stiffness]\n", r"not 3"),
        ('based_on = "jersy"\n[stiffness]\n', r"did you mean jersey"),
        ('based_on = "jersey"\n', r"the table \[stiffness\] is missing"),
        ('based_on = "jersey"\ncolour = "red"\n[stiffness]\n', r"'colour' is not known here"),
        ('based_on = "jersey"\n[stiffness]\nhole_giv_mm = 1\n', r"did you mean 'hole_give_mm'"),
        ('based_on = "jersey"\n[stiffness]\nhole_give_mm = -1\n', r"hole_give_mm must be a number from 0"),
        (
            'based_on = "jersey"\n[stiffness]\ntension_ratio = 0\n',
            r"tension_ratio must be a number from 0\.1",
        ),
    ],
)
def test_what_is_wrong_is_said(tmp_path: Path, text: str, says: str) -> None:
    with pytest.raises(InputError, match=says) as refused:
        load_fabric(own(tmp_path, text))
    assert "our-own.toml" in str(refused.value) or "jersy" in text
