"""Laid cloth: its scale, its colour, its seams, and what must be exact."""

from __future__ import annotations

import dataclasses
import functools
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import colour
import flip_evaluator
import numpy as np
import pytest
from numpy.typing import NDArray

from render.colour import to_srgb
from render.draw import cloth
from render.draw.cloth import laying, lit, tile, tile_cache
from render.draw.cloth.packed import packed
from render.draw.seen_move import SeenMove
from render.materials.fabrics import fabric_names, load_fabric
from render.model import Fabric, Lamp, Light, Window

LIGHT = Light(
    "test",
    "One soft key and a dome",
    (Lamp(azimuth_deg=225, elevation_deg=47, size_deg=25, irradiance=2.15, colour_linear=(1, 1, 1)),),
    (0.17, 0.17, 0.17),
)


@functools.cache
def small_tile(name: str, target_mm: float = 6.0, px_per_mm: float = 20.0) -> tile.Tile:
    return tile.build_tile(load_fabric(name).structure, target_mm=target_mm, px_per_mm=px_per_mm)


def use_tiles(monkeypatch: pytest.MonkeyPatch, tile_of: Callable[[dict[str, Any]], tile.Tile]) -> None:
    """Have cloth lit from these tiles, which nothing tells from the usual ones: none is kept on disk."""
    monkeypatch.setattr(tile_cache, "cached_tile", tile_of)
    monkeypatch.setattr(tile_cache, "kept", lambda *_, make, **__: make())


@pytest.fixture
def small(monkeypatch: pytest.MonkeyPatch) -> None:
    """Tiles of 6 mm at 20 px/mm: quick to build, and they repeat often."""
    by_structure = {str(load_fabric(n).structure): n for n in fabric_names()}
    use_tiles(monkeypatch, lambda structure: small_tile(by_structure[str(structure)]))


def lit_of(name: str, px_per_mm: float, **changes: Any) -> cloth.LitCloth:
    facts: dict[str, Any] = {
        "light": LIGHT,
        "colour_srgb": None,
        "turn_deg": 0.0,
        "mirrored": False,
        "seed": 3,
    } | changes
    fabric: Fabric = facts.pop("fabric", None) or load_fabric(name)
    return cloth.light_cloth(fabric, facts.pop("light"), px_per_mm=px_per_mm, **facts)


def laid(piece: cloth.LitCloth, window: Window) -> cloth.ClothLayer:
    return cloth.lay_cloth(piece, window=window, first_row=0, rows=window.rows, first_col=0, cols=window.cols)


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


def likeness_at_tile(piece: laying.Piece, size_mm: float, repeat_mm: float) -> float:
    """How much more alike 300 mm of cloth is to itself one tile on than a few repeats on."""
    px = 6.0
    layer = laying.lay(
        piece, packed(piece.texels), (np.arange(1800) + 0.5) / px, (np.arange(150) + 0.5) / px, np.eye(2)
    )
    light = layer.radiance_linear[..., 1].astype(float)
    light -= light.mean()

    def alike(lag_mm: float) -> float:
        lag = round(lag_mm * px)
        a, b = light[:, lag:], light[:, :-lag]
        return float((a * b).mean() / np.sqrt((a * a).mean() * (b * b).mean()))

    others = [alike(size_mm + k * repeat_mm) for k in (-3, -2, 2, 3)]
    return alike(size_mm) - float(np.mean(others))


@pytest.mark.parametrize(
    ("name", "repeat_mm"), [("jersey", 0.62), ("pique", 1.48), ("felt", 0.9), ("terry", 1.0)]
)
def test_no_repeat_shows_over_300_mm(name: str, repeat_mm: float, monkeypatch: pytest.MonkeyPatch) -> None:
    use_tiles(monkeypatch, lambda structure: small_tile(name, tile.TILE_MM, 12.0))
    piece = lit_of(name, 6.0).piece
    size = piece.texels.shape[1] / piece.per_mm[0]
    assert abs(likeness_at_tile(piece, size, repeat_mm)) < 0.06
    # The measure does find the repeat of a tile that is simply set side by side.
    assert likeness_at_tile(plain_tiling(piece), size, repeat_mm) > 0.12


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


# --- exactness


@pytest.mark.usefixtures("small")
@pytest.mark.parametrize("turn", [0.0, 27.0])
def test_a_pixel_does_not_depend_on_the_rectangle_or_thread(turn: float) -> None:
    piece = lit_of("pique", 9.0, turn_deg=turn)
    window = Window((3.3, -7.1), 9.0, 120, 150)
    whole = laid(piece, window)
    places = [(r, c, 40, 50) for r in (0, 40, 80) for c in (0, 50, 100)]

    def part(place: tuple[int, int, int, int]) -> cloth.ClothLayer:
        r, c, rows, cols = place
        return cloth.lay_cloth(piece, window=window, first_row=r, rows=rows, first_col=c, cols=cols)

    with ThreadPoolExecutor(2) as pool:
        parts = list(pool.map(part, places))
    for (r, c, rows, cols), got in zip(places, parts, strict=True):
        here = np.s_[r : r + rows, c : c + cols]
        assert np.array_equal(got.radiance_linear, whole.radiance_linear[here])
        assert np.array_equal(got.height_mm, whole.height_mm[here])
    beyond = cloth.lay_cloth(piece, window=window, first_row=-20, rows=60, first_col=-10, cols=30)
    assert np.array_equal(beyond.height_mm[20:, 10:], whole.height_mm[:40, :20])


def turned_light(quarters: int, mirrored: bool = False) -> Light:
    lamps = []
    for lamp in LIGHT.lamps:
        azimuth = lamp.azimuth_deg + 8.0
        azimuth = (180.0 - azimuth if mirrored else azimuth) + 90.0 * quarters
        lamps.append(Lamp(azimuth, lamp.elevation_deg, lamp.size_deg, lamp.irradiance, lamp.colour_linear))
    return Light("turned", "Turned", tuple(lamps), LIGHT.dome_linear)


@pytest.mark.usefixtures("small")
@pytest.mark.parametrize("name", ["denim", "felt"])
@pytest.mark.parametrize("quarters", [1, 2, 3])
def test_a_quarter_turn_of_cloth_and_lights_turns_the_picture_exactly(name: str, quarters: int) -> None:
    upright = laid(lit_of(name, 8.0, light=turned_light(0)), Window((0, 0), 8.0, 60, 90))
    turned = lit_of(name, 8.0, light=turned_light(quarters), turn_deg=90.0 * quarters)
    shape = (90, 60) if quarters % 2 else (60, 90)
    got = laid(turned, Window((0, 0), 8.0, *shape))
    assert np.array_equal(got.radiance_linear, np.rot90(upright.radiance_linear, -quarters))
    assert np.array_equal(got.height_mm, np.rot90(upright.height_mm, -quarters))


@pytest.mark.usefixtures("small")
def test_mirrored_cloth_and_lights_mirror_the_picture_exactly() -> None:
    plain = laid(lit_of("denim", 8.0, light=turned_light(0)), Window((0, 0), 8.0, 60, 90))
    mirror = lit_of("denim", 8.0, light=turned_light(0, mirrored=True), mirrored=True)
    got = laid(mirror, Window((0, 0), 8.0, 60, 90))
    assert np.array_equal(got.radiance_linear, plain.radiance_linear[:, ::-1])


@pytest.mark.usefixtures("small")
def test_a_whole_pixel_move_moves_the_picture() -> None:
    piece = lit_of("jersey", 8.0)
    here = laid(piece, Window((1.0, 2.0), 8.0, 64, 64))
    moved = laid(piece, Window((1.0 + 5 / 8, 2.0 - 3 / 8), 8.0, 64, 64))
    assert np.array_equal(moved.radiance_linear[3:, :-5], here.radiance_linear[:-3, 5:])


@pytest.mark.usefixtures("small")
def test_cloth_that_moved_shows_where_it_came_from() -> None:
    piece = lit_of("canvas", 8.0)
    window = Window((0, 0), 8.0, 40, 40)
    shift = np.broadcast_to(np.array([2.0, -1.5]), (5, 4, 2))
    moved = SeenMove(shift.copy(), (-1.0, -1.0), 0.5, (4, 5), (0, 0))
    got = cloth.lay_cloth(piece, window=window, first_row=0, rows=40, first_col=0, cols=40, moved=moved)
    want = laid(piece, Window((-2.0, 1.5), 8.0, 40, 40))
    assert np.array_equal(got.radiance_linear, want.radiance_linear)


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


def test_a_soft_face_stands_higher_by_its_bed_less_what_gives_way_and_is_lit_alike(small: None) -> None:
    soft = dataclasses.replace(load_fabric("felt"), bed_mm=0.0)
    firm, deep = (
        lit_of("felt", 8.0, fabric=one) for one in (soft, dataclasses.replace(soft, bed_mm=0.3, stands=0.5))
    )
    one, other = (laid(piece, Window((0.0, 0.0), 8.0, 20, 24)) for piece in (firm, deep))
    assert other.height_mm == pytest.approx(0.5 * one.height_mm + 0.3, abs=2e-4)
    assert (one.radiance_linear == other.radiance_linear).all()


def test_pieces_begin_with_any_yarn_of_the_pattern_and_keep_its_order() -> None:
    """A 3/1 twill has four yarns each way; within a piece all shifts are whole repeats of each other."""
    surface = load_fabric("denim").structure["surface"]
    size, repeats, texels = (14 * 4 * 0.35, 10 * 4 * 0.5), (14, 10), np.zeros((400, 280, 4), np.float32)
    begun = set()
    for seed in range(40):
        shifts = laying.piece_of(surface, texels, size, repeats, seed).shifts / laying.ONE
        yarn = shifts / (280 / (14 * 4), 400 / (10 * 4))
        np.testing.assert_allclose(yarn, np.rint(yarn), atol=1e-3)
        first = np.rint(yarn).astype(int) % 4
        assert (first == first[0]).all()
        begun.add(tuple(first[0].tolist()))
    assert len(begun) > 10
