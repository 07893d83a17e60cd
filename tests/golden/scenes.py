"""The small pieces of embroidery whose pictures are kept."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable

import numpy as np
import samples
from numpy.typing import NDArray

from render.compose import compose
from render.draw import draw
from render.materials.fabrics import load_fabric
from render.materials.fibres import load_fibres
from render.materials.job import make_job
from render.model import Sewn, Window
from render.preview import SewnDesign
from render.scene.frame import Frame, set_up
from render.scene.garments import garment
from render.scene.picture import draw_scene
from render.scene.sets import Colouring

PX_PER_MM = 300 / 25.4
Pixels = NDArray[np.uint8]


def satin_curve(left_out: int | None = None) -> Pixels:
    """A bent satin column; one of its stitches can be left out."""
    sewn = _sewn(samples.Part(samples.satin(10.0, 3.0, bend=1.6), "satin"))
    window = Window((0.0, 1.8), PX_PER_MM, 100, 130)
    hidden = np.arange(len(sewn.start_mm)) == left_out
    return samples.picture_of(samples.draw_flat(sewn, window, hidden=hidden), window)


def fill_with_border() -> Pixels:
    """A fill at an angle in a satin ring, on piqué."""
    around = np.linspace(0, 2 * np.pi, 160)
    radius = 4.6 + 0.8 * np.where(np.arange(160) % 2, 1, -1)
    ring = np.stack([radius * np.cos(around), radius * np.sin(around)], 1)
    sewn = _sewn(
        samples.Part(samples.turned(samples.fill(6.4, 6.4), 25), "fill"), samples.Part(ring, "satin", 1)
    )
    window = Window((0.0, 0.0), PX_PER_MM, 160, 160)
    (layers,) = draw(
        sewn,
        threads=(samples.RED, samples.CREAM),
        lobes=load_fibres(),
        load_fabric=load_fabric,
        job=dataclasses.replace(make_job(), finish="cleaned"),
        windows=[window],
    )
    return compose(layers, window, transparent=False).pixels


def _crossing() -> Sewn:
    return samples.sewn_of(
        samples.Part(samples.fill(7, 4), "fill"),
        samples.Part(samples.running((-5, 3), (5, -3)), "running", 1),
        samples.Part(samples.running((5, 3), (-5, -3)), "running", 2),
        cut="no",
    )


def crossing_and_jump() -> Pixels:
    """Two lines crossing on a fill, the thread dragged from one object to the next."""
    window = Window((0.0, 0.0), PX_PER_MM, 100, 150)
    return samples.picture_of(samples.draw_flat(_crossing(), window), window)


def cut_out() -> Pixels:
    """The same without cloth: transparent, with soft edges and its shadow."""
    window = Window((0.0, 0.0), PX_PER_MM, 100, 150)
    return samples.picture_of(samples.draw_flat(_crossing(), window), window, transparent=True)


def on_a_garment(name: str, cols: int, rows: int) -> Pixels:
    """A fill in a satin ring on a built-in garment, through its camera."""
    around = np.linspace(0, 2 * np.pi, 400)
    radius = 17.0 + 1.4 * np.where(np.arange(400) % 2, 1, -1)
    ring = np.stack([radius * np.cos(around), radius * np.sin(around)], 1)
    sewn = _sewn(
        samples.Part(samples.turned(samples.fill(22.0, 22.0), 25), "fill"), samples.Part(ring, "satin", 1)
    )
    setting = garment(name, (37.0, 37.0))
    job = dataclasses.replace(make_job(finish="cleaned"), fabric=load_fabric(setting.fabric))
    threads = (samples.RED, samples.CREAM)
    colouring = Colouring("", threads, setting.colour_srgb, setting.trim_srgb)
    prepared = set_up(setting, job, Frame(rows, cols))
    (picture,) = draw_scene(SewnDesign(sewn, threads, None, ()), job, prepared, [colouring])
    return picture.pixels


def _sewn(*parts: samples.Part) -> Sewn:
    return samples.sewn_of(*parts)


SCENES: dict[str, Callable[[], Pixels]] = {
    "satin-curve": satin_curve,
    "fill-with-border": fill_with_border,
    "crossing-and-jump": crossing_and_jump,
    "cut-out": cut_out,
    "scene-close-up": lambda: on_a_garment("close-up", 200, 150),
    "scene-cap": lambda: on_a_garment("cap-three-quarter", 240, 180),
}
