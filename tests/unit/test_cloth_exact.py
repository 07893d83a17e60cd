"""Laid cloth: what must be exact."""

from __future__ import annotations

import dataclasses
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
from cloth_tiles import LIGHT, laid, lit_of

from render.draw import cloth
from render.draw.cloth import laying, pile, tile
from render.draw.seen_move import SeenMove
from render.materials.fabrics import load_fabric
from render.model import Lamp, Light, Window


@pytest.mark.slow
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


def test_a_soft_face_stands_higher_by_its_bed_less_what_gives_way_and_is_lit_alike(small: None) -> None:
    soft = dataclasses.replace(load_fabric("felt"), bed_mm=0.0, stands=1.0)
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


def test_lumps_of_matted_fibres_stand_as_high_as_the_file_says_and_have_no_seam() -> None:
    structure = load_fabric("felt").structure
    usual, level = (
        tile.build_tile(
            {**structure, "pile": {**structure["pile"], "lumps_mm": high_mm}}, target_mm=8.0, px_per_mm=20.0
        ).height_mm
        for high_mm in (0.05, 0.0)
    )
    lumps = usual - level
    assert lumps.std() == pytest.approx(0.05, rel=1e-3)
    # The last row is as near the first as any is to its neighbour.
    steps = np.abs(lumps - np.roll(lumps, 1, 0)).mean(1)
    assert steps[0] < 1.5 * steps[1:].mean()
    # Alike over a small part of a lump, not any more on the next.
    near, far = (
        float((lumps * np.roll(lumps, round(mm * 20.0), 1)).mean()) / 0.05**2
        for mm in (pile.LUMP_MM / 6, 1.5 * pile.LUMP_MM)
    )
    assert near > 0.6
    assert abs(far) < 0.3
