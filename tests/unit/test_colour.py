"""Colour against published values and against two independent libraries."""

from __future__ import annotations

import colour as colour_science
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from skimage.color import deltaE_ciede2000, rgb2lab

from render.colour import (
    ciede2000,
    colour_words,
    from_lab,
    hex_colour,
    parse_colour,
    to_lab,
    to_linear,
    to_srgb,
)
from render.errors import InputError

UNIT = st.floats(0.0, 1.0)

# Sharma, Wu & Dalal, Color Res. Appl. 30 (2005) 21-30, Table 1: L1 a1 b1 L2 a2 b2 CIEDE2000.
SHARMA = """
50 2.6772 -79.7751 50 0 -82.7485 2.0425
50 3.1571 -77.2803 50 0 -82.7485 2.8615
50 2.8361 -74.02 50 0 -82.7485 3.4412
50 -1.3802 -84.2814 50 0 -82.7485 1.0000
50 -1.1848 -84.8006 50 0 -82.7485 1.0000
50 -0.9009 -85.5211 50 0 -82.7485 1.0000
50 0 0 50 -1 2 2.3669
50 -1 2 50 0 0 2.3669
50 2.49 -0.001 50 -2.49 0.0009 7.1792
50 2.49 -0.001 50 -2.49 0.001 7.1792
50 2.49 -0.001 50 -2.49 0.0011 7.2195
50 2.49 -0.001 50 -2.49 0.0012 7.2195
50 -0.001 2.49 50 0.0009 -2.49 4.8045
50 -0.001 2.49 50 0.001 -2.49 4.8045
50 -0.001 2.49 50 0.0011 -2.49 4.7461
50 2.5 0 50 0 -2.5 4.3065
50 2.5 0 73 25 -18 27.1492
50 2.5 0 61 -5 29 22.8977
50 2.5 0 56 -27 -3 31.9030
50 2.5 0 58 24 15 19.4535
50 2.5 0 50 3.1736 0.5854 1.0000
50 2.5 0 50 3.2972 0 1.0000
50 2.5 0 50 1.8634 0.5757 1.0000
50 2.5 0 50 3.2592 0.335 1.0000
60.2574 -34.0099 36.2677 60.4626 -34.1751 39.4387 1.2644
63.0109 -31.0961 -5.8663 62.8187 -29.7946 -4.0864 1.2630
61.2901 3.7196 -5.3901 61.4292 2.248 -4.962 1.8731
35.0831 -44.1164 3.7933 35.0232 -40.0716 1.5901 1.8645
22.7233 20.0904 -46.694 23.0331 14.973 -42.5619 2.0373
36.4612 47.858 18.3852 36.2715 50.5065 21.2231 1.4146
90.8027 -2.0831 1.441 91.1528 -1.6435 0.0447 1.4441
90.9257 -0.5406 -0.9208 88.6381 -0.8985 -0.7239 1.5381
6.7747 -0.2908 -2.4247 5.8714 -0.0985 -2.2286 0.6377
2.0776 0.0795 -1.135 0.9033 -0.0636 -0.5514 0.9082
"""


@pytest.mark.parametrize(
    ("code", "linear"),
    # IEC 61966-2-1, formulas worked out to six places.
    [
        (0, 0.0),
        (10, 0.003035),
        (11, 0.003347),
        (50, 0.031896),
        (118, 0.181164),
        (128, 0.215861),
        (188, 0.502886),
        (255, 1.0),
    ],
)
def test_srgb_codes_to_linear_light(code: int, linear: float) -> None:
    assert to_linear(np.array(code / 255)) == pytest.approx(linear, abs=1e-6)
    assert to_srgb(np.array(to_linear(np.array(code / 255)))) * 255 == pytest.approx(code, abs=1e-9)


def test_linear_light_to_srgb() -> None:
    """IEC 61966-2-1: 18 % grey is code 117.65, an even blend of black and white 187.5, not 128."""
    assert to_srgb(np.array([0.18, 0.5])) * 255 == pytest.approx([117.65, 187.5], abs=0.02)


def test_srgb_agrees_with_a_library_over_its_whole_range() -> None:
    codes = np.linspace(0, 1, 1001)
    assert to_linear(codes) == pytest.approx(colour_science.cctf_decoding(codes, function="sRGB"), abs=1e-9)


@given(UNIT)
def test_linear_round_trip(value: float) -> None:
    assert to_srgb(to_linear(np.array(value))) == pytest.approx(value, abs=1e-7)


def test_out_of_range_light_is_clipped() -> None:
    assert to_srgb(np.array([-1.0, 2.0])) == pytest.approx([0.0, 1.0], abs=1e-12)


@pytest.mark.parametrize(
    ("srgb", "lab"),
    # Lab (D65) of the primaries, as scikit-image 0.26 and colour-science 0.4.7 give them. Under
    # D50, as in ICC work flows, red would be (54.29, 80.83, 69.91).
    [
        ((1.0, 0.0, 0.0), (53.24, 80.09, 67.20)),
        ((0.0, 1.0, 0.0), (87.73, -86.18, 83.18)),
        ((0.0, 0.0, 1.0), (32.30, 79.19, -107.86)),
        ((1.0, 1.0, 1.0), (100.0, 0.0, 0.0)),
        ((0.0, 0.0, 0.0), (0.0, 0.0, 0.0)),
    ],
)
def test_lab_of_the_primaries(srgb: tuple[float, ...], lab: tuple[float, ...]) -> None:
    assert to_lab(np.array(srgb)) == pytest.approx(lab, abs=0.03)


def test_lab_agrees_with_a_library_over_the_cube() -> None:
    cube = np.stack(np.meshgrid(*[np.linspace(0, 1, 7)] * 3), axis=-1).reshape(-1, 3)
    assert to_lab(cube) == pytest.approx(rgb2lab(cube), abs=0.03)


@given(UNIT, UNIT, UNIT)
def test_lab_round_trip(red: float, green: float, blue: float) -> None:
    srgb = np.array([red, green, blue])
    assert from_lab(to_lab(srgb)) == pytest.approx(srgb, abs=1e-6)


def test_libraries_measure_colour_differences_as_published() -> None:
    rows = np.array([[float(v) for v in line.split()] for line in SHARMA.strip().splitlines()])
    assert rows.shape == (34, 7)
    # Pair 14 sits on a jump of the mean hue: rounding gives 4.8045 or 4.7461.
    sure = np.arange(34) != 13
    for found in (
        ciede2000(rows[:, :3], rows[:, 3:6]),
        deltaE_ciede2000(rows[:, :3], rows[:, 3:6]),
        colour_science.delta_E(rows[:, :3], rows[:, 3:6], method="CIE 2000"),
    ):
        assert found[sure] == pytest.approx(rows[sure, 6], abs=1e-4)
        assert min(abs(found[13] - 4.8045), abs(found[13] - 4.7461)) < 1e-4


@pytest.mark.parametrize(
    ("text", "hexed"),
    [
        ("#c02030", "#c02030"),
        ("#C02", "#cc0022"),
        (" Navy ", "#000080"),
        ("rebeccapurple", "#663399"),
        ("lab(100 0 0)", "#ffffff"),
        ("lab(53.24, 80.09, 67.20)", "#ff0000"),
        ("LAB( 53.24%  80.09 67.20 )", "#ff0000"),
    ],
)
def test_colours_from_text(text: str, hexed: str) -> None:
    assert hex_colour(parse_colour(text)) == hexed


@pytest.mark.parametrize(
    "text",
    [
        "", "#", "#12", "#12345", "#1234567", "nocolour", "rgb(1,2,3)", "lab(1 2)", "lab(nan 0 0)",
        "lab(-1 0 0)", "lab(101 0 0)", "lab(50 999 0)", "lab(50 20% 30%)", "lab(50 0 0 / 50%)", "0",
        "transparent", "x" * 100_000, "red\nred",
    ],
)  # fmt: skip
def test_what_is_no_colour(text: str) -> None:
    with pytest.raises(InputError, match="is no colour: write #rrggbb") as error:
        parse_colour(text)
    assert len(str(error.value)) < 200
    assert "\n" not in str(error.value)


@given(st.text(max_size=30))
def test_any_text_is_a_colour_or_an_input_error(text: str) -> None:
    try:
        values = parse_colour(text)
    except InputError:
        return
    assert all(0.0 <= value <= 1.0 for value in values)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("black", "black"),
        ("white", "white"),
        ("ivory", "white"),
        ("#808080", "grey"),
        ("#303030", "dark grey"),
        ("silver", "light grey"),
        ("slategray", "cool grey"),
        ("#8c8478", "warm grey"),
        ("navy", "dark blue"),
        ("blue", "blue"),
        ("skyblue", "light blue"),
        ("teal", "teal"),
        ("darkgreen", "dark green"),
        ("green", "green"),
        ("#2f6b4f", "dark green"),
        ("darkolivegreen", "dark green"),
        ("#202a1a", "dark green grey"),
        ("red", "red"),
        ("darkred", "dark red"),
        ("orange", "orange"),
        ("yellow", "yellow"),
        ("goldenrod", "gold"),
        ("olive", "olive"),
        ("saddlebrown", "brown"),
        ("tan", "beige"),
        ("pink", "pink"),
        ("indigo", "dark purple"),
        ("violet", "light purple"),
        # Hues that Lab puts far from where people see them.
        ("mediumpurple", "purple"),
        ("slateblue", "purple"),
        ("mediumblue", "dark blue"),
        ("royalblue", "blue"),
        # Light and strong, pale, or dark: words of their own.
        ("salmon", "coral"),
        ("mistyrose", "light pink"),
        ("rosybrown", "pink"),
        ("#d9663a", "dark orange"),
        ("peru", "light brown"),
        ("#f0e6d2", "cream"),
        ("beige", "cream"),
        ("lemonchiffon", "pale yellow"),
        ("turquoise", "turquoise"),
        ("powderblue", "light blue"),
        ("magenta", "magenta"),
        ("#5a1020", "wine red"),
    ],
)
def test_plain_words(text: str, words: str) -> None:
    assert colour_words(parse_colour(text)) == words


@given(UNIT, UNIT, UNIT)
def test_words_are_plain_for_every_colour(red: float, green: float, blue: float) -> None:
    plain = (
        "black white grey pink red orange yellow green teal blue purple brown beige gold olive "
        "cream coral turquoise magenta wine dark light pale warm cool"
    )
    assert set(colour_words((red, green, blue)).split()) <= set(plain.split())
