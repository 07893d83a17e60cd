"""Any design becomes a picture: finite, in range, and the same each time."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
import samples
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from render.materials.job import make_job
from render.model import Command, Design, View
from render.preview import draw_design

JOB = make_job()
# Steps as files hold them, whole tenths of a millimetre; a needle may come down where it was.
STEPS = st.integers(-121, 121)
RECORDS = st.lists(
    st.tuples(
        STEPS,
        STEPS,
        st.sampled_from(
            [Command.STITCH] * 8 + [Command.JUMP, Command.TRIM, Command.COLOUR_CHANGE, Command.STOP]
        ),
    ),
    min_size=2,
    max_size=40,
)


def _design(records: list[tuple[int, int, Command]], explicit: bool) -> Design:
    """The records as steps from the origin, begun with two stitches so that something is sewn."""
    rows = [(0, 0, Command.STITCH), (25, 10, Command.STITCH), *records]
    steps = np.array([[x, y] for x, y, _ in rows]) / 10
    stays = np.array([c not in (Command.STITCH, Command.JUMP) for _, _, c in rows])
    steps[stays] = 0
    return Design(
        name="random",
        format="made by hand",
        xy_mm=steps.cumsum(0),
        command=np.array([c for _, _, c in rows], np.uint8),
        colours_srgb=((0.8, 0.1, 0.1), None),
        trim_rule="explicit" if explicit else "inferred",
        long_stitches_split=False,
        sha256="",
    )


def _pixels(design: Design, view: View, seed: int = 0) -> NDArray[np.uint8]:
    return draw_design(design, dataclasses.replace(JOB, seed=seed), view).picture.pixels


@pytest.mark.slow
@settings(max_examples=6, derandomize=True, suppress_health_check=list(HealthCheck))
@given(
    records=RECORDS,
    explicit=st.booleans(),
    rotate_deg=st.sampled_from([0.0, 33.0, 90.0]),
    mirror=st.booleans(),
    transparent=st.booleans(),
)
def test_any_design_becomes_a_picture(
    records: list[tuple[int, int, Command]],
    explicit: bool,
    rotate_deg: float,
    mirror: bool,
    transparent: bool,
) -> None:
    view = View(width_px=160, margin_mm=3.0, rotate_deg=rotate_deg, mirror=mirror, transparent=transparent)
    design = _design(records, explicit)
    pixels = _pixels(design, view)
    assert pixels.shape[1:] == (160, 4 if transparent else 3)
    assert np.ptp(pixels[..., 3 if transparent else 0]) > 0, "nothing is drawn"
    assert (_pixels(design, view) == pixels).all()


@settings(max_examples=15, derandomize=True, suppress_health_check=list(HealthCheck))
@given(
    points=st.lists(st.tuples(st.floats(-3, 3), st.floats(-3, 3)), min_size=2, max_size=30),
    kind=st.sampled_from(["satin", "fill", "running", "underlay", "tie"]),
    px_per_mm=st.sampled_from([2.0, 12.0, 30.0]),
    thread=st.sampled_from([samples.RED, samples.CREAM, samples.GOLD]),
)
def test_light_is_finite_and_in_range(
    points: list[tuple[float, float]], kind: str, px_per_mm: float, thread: samples.Thread
) -> None:
    sewn = samples.sewn_of(samples.Part(np.array(points), kind))
    side = round(7 * px_per_mm)
    drawn = samples.draw_flat(sewn, samples.Window((0, 0), px_per_mm, side, side), threads=(thread,))
    for name in ("thread_linear", "cloth_linear", "cloth_share", "covered"):
        layer = getattr(drawn, name)
        assert np.isfinite(layer).all()
        assert layer.min() >= 0
    assert drawn.covered.max() <= 1
    assert drawn.cloth_share.max() <= 1 + 1e-6
    assert (drawn.cloth_share <= 1 - drawn.covered + 1e-5).all(), "shadow takes light, it adds none"
    # The strongest glint of the shiniest point stays within a lamp's reach.
    assert drawn.thread_linear.max() < 6
