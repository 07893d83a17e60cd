"""Laid cloth: its scale, its colour, its seams."""

from __future__ import annotations

import functools
from typing import Any

import colour
import flip_evaluator
import numpy as np
import pytest
from cloth_tiles import LIGHT, laid, lit_of, small_tile, use_tiles
from numpy.typing import NDArray

from render.colour import to_srgb
from render.draw.cloth import laying, lit, tile, tile_cache
from render.draw.cloth.packed import Packed
from render.materials.fabrics import fabric_names, load_fabric
from render.model import Lamp, Light, Window

# --- scale


def per_mm_in(profile: NDArray[np.float64], px_per_mm: float, expected: float) -> float:
    """Centre of the strongest periodicity within 12 % of the expected one, per mm."""
    rows = profile - profile.mean(axis=1, keepdims=True)
    rows = rows * np.hanning(rows.shape[1])
    power = (np.abs(np.fft.rfft(rows, 8 * rows.shape[1], axis=1)) ** 2).mean(axis=0)
    frequency = np.fft.rfftfreq(8 * rows.shape[1], 1 / px_per_mm)
    near = np.abs(frequency / expected - 1) < 0.12
    peak = frequency[near][power[near].argmax()]
    around = np.abs(frequency / peak - 1) < 0.03
    return float((frequency * power)[around].sum() / power[around].sum())


@pytest.mark.usefixtures("small")
@pytest.mark.parametrize(
    ("name", "along_x", "along_y"),
    [
        ("jersey", ("wale_mm",), ("course_mm",)),
        ("performance-polyester", ("wale_mm",), ("course_mm",)),
        ("canvas", ("warp", "spacing_mm"), ("weft", "spacing_mm")),
        ("denim", ("warp", "spacing_mm"), ("weft", "spacing_mm")),
    ],
)
def test_yarns_a_centimetre_are_those_of_the_file(
    name: str, along_x: tuple[str, ...], along_y: tuple[str, ...]
) -> None:
    """Measured in the laid cloth by its spectrum, within 2 %."""
    px_per_mm = 16.0
    heights = laid(lit_of(name, px_per_mm), Window((40.0, -25.0), px_per_mm, 640, 640)).height_mm
    structure = load_fabric(name).structure
    # Strips one repeat high: over more, the wandering grain would smear the lines.
    strips = heights.reshape(16, 40, 640).mean(axis=1), heights.T.reshape(16, 40, 640).mean(axis=1)
    for keys, strip in zip((along_x, along_y), strips, strict=True):
        spacing = functools.reduce(lambda table, key: table[key], keys, structure)
        found = per_mm_in(strip.astype(float), px_per_mm, 1 / spacing)
        assert found == pytest.approx(1 / spacing, rel=0.02)


@pytest.mark.parametrize("name", ["jersey", "twill", "terry", "polar-fleece"])
def test_a_tile_meets_itself_without_a_seam(name: str) -> None:
    """Steps across the edge are like those at the same phase of the pattern inside."""
    found = small_tile(name)
    brightness = lit.light_tile(
        found,
        load_fabric(name).structure["finish"],
        LIGHT,
        (0.5, 0.5, 0.5),
        undyed_srgb=(0.7, 0.7, 0.7),
        turn_deg=0,
        mirrored=False,
    )[..., 1]
    for axis, repeats in ((0, found.repeats[1]), (1, found.repeats[0])):
        steps = np.abs(brightness - np.roll(brightness, 1, axis)).mean(axis=1 - axis)
        count = repeats if repeats > 1 else len(steps)
        phase = np.rint(np.arange(count) * len(steps) / count).astype(int)
        # Repeats are not whole pixels, so the neighbours of the phase count as well.
        near = steps[(phase[1:, None] + np.arange(-1, 2)) % len(steps)]
        assert 0.7 * near.min() < steps[0] < 1.4 * near.max()


def plain_tiling(piece: laying.Piece) -> laying.Piece:
    return laying.Piece(
        piece.texels,
        piece.per_mm,
        np.zeros_like(piece.shifts),
        piece.cell_mm,
        piece.blend,
        np.array([[1.0, 0.0], [1.0, 0.0]]),
        np.zeros(3),
        piece.seed,
    )


def likeness_at_tile(piece: laying.Piece, texels: Packed, size_mm: float, repeat_mm: float) -> float:
    """How much more alike 300 mm of cloth is to itself one tile on than a few repeats on."""
    px = 6.0
    layer = laying.lay(piece, texels, (np.arange(1800) + 0.5) / px, (np.arange(150) + 0.5) / px, np.eye(2))
    light = layer.radiance_linear[..., 1].astype(float)
    light -= light.mean()

    def alike(lag_mm: float) -> float:
        lag = round(lag_mm * px)
        a, b = light[:, lag:], light[:, :-lag]
        return float((a * b).mean() / np.sqrt((a * a).mean() * (b * b).mean()))

    others = [alike(size_mm + k * repeat_mm) for k in (-3, -2, 2, 3)]
    return alike(size_mm) - float(np.mean(others))


@pytest.mark.parametrize(
    ("name", "repeat_mm"), [("jersey", 0.62), ("pique", 1.32), ("felt", 0.9), ("terry", 1.0)]
)
def test_no_repeat_shows_over_300_mm(name: str, repeat_mm: float, monkeypatch: pytest.MonkeyPatch) -> None:
    use_tiles(monkeypatch, lambda structure: small_tile(name, tile.TILE_MM, 12.0))
    lit = lit_of(name, 6.0)
    piece, size = lit.piece, lit.piece.texels.shape[1] / lit.piece.per_mm[0]
    assert abs(likeness_at_tile(piece, lit.texels, size, repeat_mm)) < 0.06
    # The measure does find the repeat of a tile that is simply set side by side.
    assert likeness_at_tile(plain_tiling(piece), lit.texels, size, repeat_mm) > 0.12


# --- colour

COLOURS = {
    "black": (0.06, 0.06, 0.07),
    "navy": (0.08, 0.13, 0.29),
    "red": (0.70, 0.10, 0.14),
    "white": (0.96, 0.96, 0.95),
    "lime": (0.62, 0.80, 0.20),
}


def difference(linear: NDArray[Any], srgb: tuple[float, float, float]) -> float:
    """CIEDE2000 of a linear colour from an sRGB one."""
    labs = [
        colour.XYZ_to_Lab(colour.sRGB_to_XYZ(np.asarray(c, float)), [0.3127, 0.3290])
        for c in (to_srgb(linear), srgb)
    ]
    return float(colour.delta_E(*labs, method="CIE 2000"))


@pytest.mark.parametrize("asked", COLOURS.values(), ids=COLOURS.keys())
@pytest.mark.parametrize("name", fabric_names())
def test_mean_comes_back_to_the_asked_colour(name: str, asked: tuple[float, float, float]) -> None:
    radiance = lit.light_tile(
        small_tile(name),
        load_fabric(name).structure["finish"],
        LIGHT,
        asked,
        undyed_srgb=tile_cache.UNDYED_SRGB,
        turn_deg=0,
        mirrored=False,
    )
    assert radiance.min() >= 0
    assert difference(radiance.mean(axis=(0, 1), dtype=np.float64), asked) <= 1.5


@pytest.mark.usefixtures("small")
def test_laid_cloth_keeps_the_colour_of_its_tile() -> None:
    asked = COLOURS["navy"]
    layer = laid(lit_of("twill", 10.0, colour_srgb=asked), Window((0, 0), 10.0, 800, 800))
    assert difference(layer.radiance_linear.mean(axis=(0, 1), dtype=np.float64), asked) <= 1.5


def test_warm_light_warms_the_cloth_only_as_far_as_it_is_not_balanced() -> None:
    lamp = LIGHT.lamps[0]
    warm_lamp = Lamp(
        lamp.azimuth_deg, lamp.elevation_deg, lamp.size_deg, lamp.irradiance, colour_linear=(1.0, 0.8, 0.55)
    )
    ratio = {}
    for balance in (0.0, 1.0):
        light = Light("warm", "Warm", (warm_lamp,), (0.05, 0.04, 0.03), white_balance=balance)
        radiance = lit.light_tile(
            small_tile("jersey"),
            load_fabric("jersey").structure["finish"],
            light,
            (0.6, 0.6, 0.6),
            undyed_srgb=tile_cache.UNDYED_SRGB,
            turn_deg=0,
            mirrored=False,
        )
        mean = radiance.mean(axis=(0, 1))
        ratio[balance] = mean[0] / mean[2]
    assert ratio[1.0] == pytest.approx(1.0, abs=0.02)
    assert ratio[0.0] == pytest.approx(1.0 / 0.55, rel=0.1)


# --- resolution


@pytest.mark.parametrize("name", ["jersey", "twill", "polar-fleece"])
def test_a_picture_at_twice_the_resolution_averages_to_the_same(
    name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """FLIP (Andersson et al. 2020) at 150 dpi against 300 dpi, averaged: <= 0.03."""
    use_tiles(monkeypatch, lambda structure: small_tile(name, 6.0, 40.0))
    px = 300 / 25.4
    fine = laid(lit_of(name, px), Window((4.0, 2.0), px, 240, 240)).radiance_linear
    coarse = laid(lit_of(name, px / 2), Window((4.0, 2.0), px / 2, 120, 120)).radiance_linear
    averaged = fine.reshape(120, 2, 120, 2, 3).mean(axis=(1, 3))
    pictures = [np.ascontiguousarray(to_srgb(p), np.float32) for p in (averaged, coarse)]
    _, mean, _ = flip_evaluator.evaluate(pictures[0], pictures[1], "LDR")
    assert mean <= 0.03
