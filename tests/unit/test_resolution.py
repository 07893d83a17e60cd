"""Pictures of one piece on real cloth at several sizes: each is the average of a finer one."""

from __future__ import annotations

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
from render.model import Window

SIDE_MM = 12.0
SEWN = samples.sewn_of(
    samples.Part(samples.turned(samples.fill(7, 5), 20), "fill"),
    samples.Part(samples.turned(samples.satin(8, 2.2, bend=0.5), 20) + np.array([0, 3.2]), "satin", 1),
    samples.Part(samples.running((-4, -3.5), (4, 4)), "running", 2),
    cut="no",
)


def linear(fabric: str, dpi: float, pixels: int) -> NDArray[np.float32]:
    """The piece in linear light."""
    (layers,) = draw(
        SEWN,
        threads=(samples.RED, samples.CREAM, samples.GOLD),
        lobes=load_fibres(),
        load_fabric=load_fabric,
        job=make_job(fabric=fabric),
        windows=[Window((0.0, 0.0), dpi / 25.4, pixels, pixels)],
    )
    return np.asarray(layers.thread_linear + layers.cloth_linear * layers.cloth_share[..., None])


@pytest.mark.parametrize("fabric", ["twill", "pique", "polar-fleece"])
@pytest.mark.parametrize(("dpi", "times"), [(72, 8), (150, 4), (150, 2), (300, 2)])
def test_a_picture_is_the_average_of_a_finer_one(fabric: str, dpi: int, times: int) -> None:
    """Against about 600 dpi (8 x 72 = 576), and against twice as fine."""
    pixels = round(SIDE_MM * dpi / 25.4)
    one = linear(fabric, dpi, pixels)
    fine = linear(fabric, dpi * times, pixels * times)
    many = fine.reshape(pixels, times, pixels, times, 3).mean((1, 3))
    pictures = (encode(part).astype(np.float32) / 255 for part in (one, many))
    assert float(flip_evaluator.evaluate(*pictures, "LDR")[1]) < 0.03
    assert one.mean((0, 1)) == pytest.approx(many.mean((0, 1)), rel=0.012)
