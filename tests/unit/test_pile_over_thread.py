"""Pile that is not sewn down leans over the edges of stitching, and buries what is thin."""

from __future__ import annotations

import dataclasses

import numpy as np
import samples

from render.draw import draw
from render.materials.fabrics import load_fabric
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
    """By some 0.3 mm on each side of polar fleece (estimate), and by nothing on a smooth cloth."""
    smooth, fleece = covered(column(), fabric="twill"), covered(column())
    assert 0.1 < (smooth - fleece) / (2 * 8.0) < 0.5


def test_a_running_stitch_is_buried_in_fleece_and_a_film_keeps_it_on_top() -> None:
    smooth, fleece, filmed = (
        covered(line(), fabric="twill"),
        covered(line()),
        covered(line(), topping="film"),
    )
    assert fleece < 0.4 * smooth
    assert filmed > 1.5 * fleece
