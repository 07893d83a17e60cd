"""Pile that is not sewn down leans over the edges of stitching, and buries what is thin."""

from __future__ import annotations

import dataclasses
import shutil
from pathlib import Path

import numpy as np
import pytest
import samples
from scipy.ndimage import map_coordinates

from render.draw import draw
from render.draw.block_rows import FLATTENS
from render.draw.dimples import STEPS_PER_MM
from render.draw.ground import ground_for
from render.draw.layers import bed_part, cloth_pressed, prepare
from render.draw.stack import stack_strands
from render.draw.strands import strands_of
from render.draw.veil import FIBRES, LEAST, THINS_MM, hidden_share, lit_by_fibres
from render.errors import InputError
from render.materials.fabrics import load_fabric, textures_folder
from render.materials.fibres import load_fibres
from render.materials.job import make_job
from render.model import Sewn, Window


def covered(sewn: Sewn, *, fabric: str = "polar-fleece", topping: str | None = None) -> float:
    """Thread to be seen on the cloth, mm2."""
    job = dataclasses.replace(make_job(fabric=fabric, finish="cleaned"), topping=topping)
    window = Window((0.0, 0.0), 14.0, 110, 140)
    (layers,) = draw(
        sewn,
        threads=(samples.CREAM,),
        lobes=load_fibres(),
        load_fabric=load_fabric,
        job=job,
        windows=[window],
    )
    return float(layers.covered.sum(dtype=np.float64)) / 14.0**2


def column() -> Sewn:
    return samples.sewn_of(samples.Part(samples.satin(8, 3), "satin"))


def line() -> Sewn:
    return samples.sewn_of(samples.Part(samples.running((-4, 0), (4, 0)), "running"))


def test_pile_leans_over_the_edges_of_a_satin() -> None:
    """By some hundredths of a mm on each side of polar fleece (estimate), by nothing on a smooth cloth."""
    smooth, fleece = covered(column(), fabric="twill"), covered(column())
    assert 0.02 < (smooth - fleece) / (2 * 8.0) < 0.3


def test_a_running_stitch_is_buried_in_fleece_and_a_film_keeps_it_on_top() -> None:
    smooth, fleece, filmed = (
        covered(line(), fabric="twill"),
        covered(line()),
        covered(line(), topping="film"),
    )
    assert fleece < 0.6 * smooth
    assert filmed > 1.5 * fleece


def test_nap_beside_stitching_is_as_much_steeper_and_darker_as_it_is_crushed() -> None:
    """Light beside a column on felt: nap that slopes twice as much turns twice as far from and to the lamp;
    the hollow, which keeps a little more of the light then, takes less than a tenth off that."""
    felt = load_fabric("felt")
    pressed = []
    for crushed in (1.0, 2.0):
        pile = {**felt.structure["pile"], "crushed": crushed}
        fabric = dataclasses.replace(felt, structure={**felt.structure, "pile": pile})
        job = dataclasses.replace(make_job(finish="cleaned"), fabric=fabric)
        ground = ground_for(column(), job, 14.0, load_fabric)
        strands = strands_of(column(), (samples.CREAM,), job)
        drawing = prepare(
            strands,
            stack_strands(strands, bedding=ground.bedding),
            ground,
            threads=(samples.CREAM,),
            lobes=load_fibres(),
            light=job.light,
            window=Window((0.0, 0.0), 14.0, 40, 140),
        )
        part = (0, 0, 40, 140)
        pressed.append(cloth_pressed(drawing, part, bed_part(drawing, part)))
    usual, twice = (one - 1.0 for one in pressed)
    assert usual.min() < -0.1
    assert usual.max() > 0.1
    assert 1.8 < twice.min() / usual.min() <= 2.0
    assert 1.8 < twice.max() / usual.max() <= 2.0


def test_what_pile_may_say_besides_must_be_numbers_as_well(tmp_path: Path) -> None:
    shutil.copytree(textures_folder() / "felt", tmp_path / "felt")
    path = tmp_path / "felt" / "fabric.toml"
    text = path.read_text("utf-8")
    assert "\ncrushed = 1.6\n" in text
    path.write_text(text.replace("crushed = 1.6", 'crushed = "much"'), "utf-8")
    with pytest.raises(InputError, match=r"pile\]: crushed must be a number"):
        load_fabric(str(tmp_path / "felt"))


@pytest.mark.twin
@pytest.mark.parametrize("sub", [1, 2, 3])
def test_hidden_share_matches_beers_law_place_by_place(sub: int) -> None:
    rng = np.random.default_rng(7)
    edge, (rows, cols) = 2, (9, 11)
    around = (rows + 2 * edge, cols + 2 * edge)
    dimple_steps = (0.2 * STEPS_PER_MM * rng.random((31, 35))).astype(np.int16)
    pile = rng.uniform(0.0, 0.6, around).astype(np.float32)
    bright = rng.uniform(-0.5, 0.5, around).astype(np.float32)
    height = rng.uniform(-0.2, 0.6, (around[0] * sub, around[1] * sub)).astype(np.float32)
    strand = np.where(rng.random(height.shape) < 0.6, 3, -1).astype(np.int32)
    frame = np.array([-13.3125, -11.6875, 0.5625])
    row, col = np.mgrid[:rows, :cols]
    places = [frame[1] + row * frame[2] + 15, frame[0] + col * frame[2] + 17]
    pressed = map_coordinates(dimple_steps / STEPS_PER_MM, places, order=1, mode="nearest")
    inner = (slice(edge, -edge), slice(edge, -edge))
    level = pile[inner] * np.maximum(1 - FLATTENS * pressed, 0.25) - pressed
    thick = np.maximum(1 + FIBRES * bright[inner], LEAST)
    fine = tuple(slice(edge * sub, -edge * sub) for _ in range(2))

    def by_pixel(plane: np.ndarray) -> np.ndarray:
        return plane[fine].reshape(rows, sub, cols, sub).swapaxes(1, 2).reshape(rows, cols, -1)

    passed = np.exp(-np.maximum(level[..., None] - by_pixel(height), 0) * thick[..., None] / THINS_MM)
    threads = by_pixel(strand) >= 0
    expected = ((1 - passed) * threads).sum(-1) / np.maximum(threads.sum(-1), 1)
    got = hidden_share(height, strand, sub, edge, pile, bright, dimple_steps, frame)
    assert got == pytest.approx(expected, abs=2e-5)
    assert 0.1 < got.mean() < 0.9


def test_fibres_light_a_shadow_in_part_and_not_without_pile() -> None:
    assert lit_by_fibres(0.0) == 0
    assert 0 < lit_by_fibres(0.2) < lit_by_fibres(0.8) < 1
