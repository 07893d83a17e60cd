"""Sheen against a path tracer: the same patch of satin stitches, drawn and traced filament by filament."""

from __future__ import annotations

import json
from functools import cache, lru_cache
from pathlib import Path
from unittest.mock import patch

import numpy as np
import pytest
import samples
from numpy.typing import NDArray
from reference import patches, scenes

from render.draw import sheen, tiles
from render.draw.cloth import ClothLayer
from render.draw.stack import Stack
from render.draw.strands import Strands
from render.draw.turned import Turned, draw_turned_layers
from render.model import Lamp, Light

TRACED = json.loads((Path(patches.__file__).with_name("sheen.json")).read_text("utf-8"))
ELEVATIONS = (15, 30, 45, 60, 75)
LAMP_DEG = {15: 10, 30: 10, 45: 10, 60: 8.5, 75: 5.5}  # the discs that light was gathered from, less overlaps
Floats = NDArray[np.float64]


@cache
def _patch(turn_deg: float) -> tuple[Strands, Stack]:
    """The traced patch's centre lines and sections, turned."""
    count, steps = patches.TRUE["lines"], 81
    y = (np.arange(count) - (count - 1) / 2) * patches.TRUE["spacing_mm"]
    half, high = patches.TRUE["half_width_mm"], patches.TRUE["half_height_mm"]
    end = patches.LENGTH_MM / 2
    strands = Strands(
        start_mm=samples.turned(np.stack([np.full(count, -end), y], 1), turn_deg),
        end_mm=samples.turned(np.stack([np.full(count, end), y], 1), turn_deg),
        half_width_mm=np.full(count, half),
        half_height_mm=np.full(count, high),
        thread=np.zeros(count, np.int32),
        along_mm=np.arange(count) * patches.LENGTH_MM,
        dives=np.zeros((count, 2), bool),
        arch_mm=np.zeros(count),
        grain=np.random.default_rng(1).integers(0, 2**32, count, dtype=np.uint32),
        stitch=np.arange(count, dtype=np.int32),
        piece=np.full(count, -1, np.int32),
        twist_per_mm=np.full(count, patches.TRUE_TWIST),
        anchor_mm=(0.0, 0.0),
    )
    rise = patches.arch_mm(np.linspace(-end, end, steps))
    section = np.tile(np.array([half, half, high], np.float32), (count * steps, 1))
    return strands, scenes.lying(
        strands, np.tile(rise, count).astype(np.float32), section, np.arange(count + 1) * steps
    )


def _no_cloth(
    _ground: object, _window: object, rect: tuple[int, int, int, int], _wanted: object = None
) -> ClothLayer:
    return ClothLayer(np.zeros((*rect[2:], 3), np.float32), np.full(rect[2:], -5.0, np.float32))


def drawn_curves(kind: str, albedo: tuple[float, float, float]) -> Floats:
    """Mean colour (5, 12, 3) of the patch's middle for a dye, by elevation and azimuth of the lamp."""
    fibre = scenes.traced_fibres()[kind]
    window = samples.Window((0.0, 0.0), 24.0, 40, 40)
    dye = np.array([[*albedo, 1.0, 0.0, 0.0, fibre.lean_deg]])
    out = np.empty((len(ELEVATIONS), 12, 3))
    with (
        patch("render.draw.shading.sheen_table", lru_cache(sheen.make_sheen_table)),
        patch("render.draw.shading.dyes_of", lambda *_: dye),
        patch("render.draw.sheen.BELOW_LINEAR", 0.0),
        patch("render.draw.layers.lay_ground", _no_cloth),
    ):
        for e, elevation in enumerate(ELEVATIONS):
            light = Light(
                "key", "", (Lamp(0.0, elevation, LAMP_DEG[elevation], np.pi, (1, 1, 1)),), (0, 0, 0)
            )
            for a in range(12):
                # The thread turns the other way, so that one table serves all azimuths.
                strands, stack = _patch(-15.0 * a)
                drawn = tiles.draw_layers(
                    strands,
                    stack,
                    samples.level_ground(np.full(3, 0.5)),
                    threads=(samples.Thread((0.5, 0.5, 0.5), kind, 26.7, 1.49, 0.65),),
                    lobes={kind: fibre},
                    light=light,
                    window=window,
                )
                # A white card under the lamp, which the picture is exposed for, has this radiance.
                card = np.sin(np.deg2rad(elevation))
                out[e, a] = drawn.thread_linear.mean((0, 1), dtype=float) * card
    return out


# The dye of the traced thread: an albedo a channel, found by least squares with the lobes.
FITTED = {
    "rayon": (0.539, 0.279, 0.048),
    "trilobal-polyester": (0.813, 0.640, 0.334),
    "matte-polyester": (0.703, 0.456, 0.076),
}
# The most that the curves may be off in root mean square, relative to their mean; dark ones (a mean
# below DARK), and the contrast over azimuths at 45 degrees.
MOST, DARK, MOST_DARK, MOST_CONTRAST = 0.04, 0.1, 0.09, 0.1


@pytest.mark.slow
@pytest.mark.parametrize("kind", sorted(FITTED))
def test_sheen_is_that_of_the_path_tracer(kind: str) -> None:
    traced = np.array([TRACED["mean_linear"][kind][str(e)] for e in ELEVATIONS])
    drawn = drawn_curves(kind, FITTED[kind])
    off = np.sqrt(((drawn - traced) ** 2).mean((0, 1))) / traced.mean((0, 1))
    assert (off <= np.where(traced.mean((0, 1)) < DARK, MOST_DARK, MOST)).all(), off
    ours, theirs = (curve[2].max(0) / curve[2].min(0) for curve in (drawn, traced))
    assert ours == pytest.approx(theirs, rel=MOST_CONTRAST)


@pytest.mark.slow
@pytest.mark.parametrize("azimuth_deg", [15, 90])
def test_two_points_of_the_reference_traced_again(azimuth_deg: int) -> None:
    """With one distant lamp instead of a disc 10 degrees wide, and few paths."""
    pytest.importorskip("mitsuba", reason="install the extra 'reference' to trace")
    cords = patches.patch(**patches.TRUE, turns_per_mm=patches.TRUE_TWIST)
    again = patches.mean_radiance(
        cords, "rayon", azimuth_deg, 45, camera=patches.true_camera(False, 48), samples=32, seed=3
    )
    kept = TRACED["mean_linear"]["rayon"]["45"][azimuth_deg // 15]
    assert again[:2] == pytest.approx(kept[:2], rel=0.12)


def leaning_curve(kind: str, albedo: tuple[float, float, float], step: int) -> Floats:
    """Mean colour (24 / step, 3) of the patch seen from 45 degrees aside, as drawn on garments, for lamps
    45 degrees high at every so many azimuths. What threads hide of each other from there is left out."""
    fibre = scenes.traced_fibres()[kind]
    dye = np.array([[*albedo, 1.0, 0.0, 0.0]], np.float32)
    aside = sheen.lamp_direction(45.0, 45.0)
    frame = np.tile(np.array([1, 0, 0, 0, 1, 0, 0, 0, 1, *aside, 1, 1], np.float32), (3, 3, 1))
    surface = Turned(frame, np.zeros((3, 3), np.float32), np.ones((3, 3), np.bool_), (-20.0, -20.0), 20.0)
    lamps = [
        Light("key", "", (Lamp(15.0 * a, 45, 10, np.pi, (1, 1, 1)),), (0, 0, 0)) for a in range(0, 24, step)
    ]
    # The formula is asked for each place: the tables are not looked at, so one will do.
    table = sheen.make_sheen_table(fibre, lamps[0])
    strands, stack = _patch(0.0)
    out = []
    with (
        patch("render.draw.shading.sheen_table", lambda *_: table),
        patch("render.draw.shine.sheen_table", lambda *_: table),
        patch("render.draw.shading.dyes_of", lambda *_: dye),
        patch("render.draw.shine.dyes_of", lambda *_: dye),
        patch("render.draw.shine.BELOW_LINEAR", 0.0),
        patch("render.draw.layers.lay_ground", _no_cloth),
    ):
        for light in lamps:
            drawn = draw_turned_layers(
                strands,
                stack,
                samples.level_ground(np.full(3, 0.5)),
                thread_sets=[(samples.Thread((0.5, 0.5, 0.5), kind, 26.7, 1.49, 0.65),)],
                lobes={kind: fibre},
                light=light,
                window=samples.Window((0.0, 0.0), 24.0, 40, 40),
                surface=surface,
            )
            out.append(drawn.thread_linear.mean((0, 1, 2), dtype=float) * np.sin(np.pi / 4))
    return np.array(out)


# How far the shape of the curve may be off, red and green, in root mean square of its mean.
MOST_ASIDE = {"rayon": 0.2, "trilobal-polyester": 0.25, "matte-polyester": 0.45}


@pytest.mark.slow
@pytest.mark.parametrize("kind", sorted(FITTED))
def test_sheen_seen_aslant_is_near_the_path_tracer(kind: str) -> None:
    traced = np.array(TRACED["mean_linear"][kind]["45 leaning"])[::2]
    drawn = leaning_curve(kind, FITTED[kind], 2)
    level = drawn.mean(0) / traced.mean(0)
    assert level == pytest.approx(1.0, abs=0.25)
    off = np.sqrt(((drawn / level - traced) ** 2).mean(0)) / traced.mean(0)
    assert (off[:2] <= MOST_ASIDE[kind]).all(), off
