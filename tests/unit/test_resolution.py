"""Pictures of one piece on real cloth at several sizes: each is the average of a finer one."""

from __future__ import annotations

from pathlib import Path

import flip_evaluator
import numpy as np
import pytest
import samples
from numpy.typing import NDArray

from render.compose.encoding import encode
from render.draw import draw
from render.materials.fabrics import load_fabric
from render.materials.fibres import load_fibres
from render.materials.job import make_job
from render.model import Job, Sewn, Thread, Window
from render.preview import sew_design
from render.read import read_design

EXAMPLES = Path(__file__).parents[2] / "examples"
SIDE_MM = 12.0
SEWN = samples.sewn_of(
    samples.Part(samples.turned(samples.fill(7, 5), 20), "fill"),
    samples.Part(samples.turned(samples.satin(8, 2.2, bend=0.5), 20) + np.array([0, 3.2]), "satin", 1),
    samples.Part(samples.running((-4, -3.5), (4, 4)), "running", 2),
    cut="no",
)


def linear(sewn: Sewn, threads: tuple[Thread, ...], job: Job, window: Window) -> NDArray[np.float32]:
    """A piece in linear light."""
    (layers,) = draw(
        sewn, threads=threads, lobes=load_fibres(), load_fabric=load_fabric, job=job, windows=[window]
    )
    return np.asarray(layers.thread_linear + layers.cloth_linear * layers.cloth_share[..., None])


def boxed(fine: NDArray[np.float32], times: int) -> NDArray[np.float32]:
    """The average of so many by so many pixels."""
    rows, cols = fine.shape[0] // times, fine.shape[1] // times
    return fine.reshape(rows, times, cols, times, 3).mean((1, 3))


def flip_mean(one: NDArray[np.float32], other: NDArray[np.float32]) -> float:
    pictures = (encode(part).astype(np.float32) / 255 for part in (one, other))
    return float(flip_evaluator.evaluate(*pictures, "LDR")[1])


@pytest.mark.parametrize("fabric", ["twill", "pique", "polar-fleece"])
@pytest.mark.parametrize(("dpi", "times"), [(72, 8), (150, 4), (150, 2), (300, 2)])
def test_a_picture_is_the_average_of_a_finer_one(fabric: str, dpi: int, times: int) -> None:
    """Against about 600 dpi (8 x 72 = 576), and against twice as fine."""
    pixels, threads = round(SIDE_MM * dpi / 25.4), (samples.RED, samples.CREAM, samples.GOLD)
    one, fine = (
        linear(
            SEWN,
            threads,
            make_job(fabric=fabric),
            Window((0.0, 0.0), k * dpi / 25.4, k * pixels, k * pixels),
        )
        for k in (1, times)
    )
    many = boxed(fine, times)
    assert flip_mean(one, many) < 0.03
    assert one.mean((0, 1)) == pytest.approx(many.mean((0, 1)), rel=0.012)


@pytest.mark.slow
def test_the_crest_at_300_dpi_is_the_average_of_600() -> None:
    """On jersey, which shows more of a difference than other cloths."""
    job = make_job(fabric="jersey", threads=str(EXAMPLES / "crest.threads.toml"), finish="cleaned")
    ready = sew_design(read_design(EXAMPLES / "crest.dst"), job)
    left, top, right, bottom = ready.sewn.plan.box_mm
    middle, pixels = ((left + right) / 2, (top + bottom) / 2), round((right - left + 4) * 300 / 25.4)
    one, two = (
        linear(ready.sewn, ready.threads, job, Window(middle, k * 300 / 25.4, k * pixels, k * pixels))
        for k in (1, 2)
    )
    assert flip_mean(one, boxed(two, 2)) < 0.03
