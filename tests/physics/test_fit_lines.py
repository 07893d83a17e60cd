"""Fitting a response of straight lines: the closed form, what is said of a misfit, and what is refused."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from swatch_readings import COLUMNS, SEEDS, WIDTHS, Floats, read, where

from render.errors import InputError
from render.fit import fit_readings
from render.fit.readings import Readings, gather
from render.fit.solve import condition_of, scatter_of


def straight(give_mm: float, ratio: float) -> Floats:
    """A response of straight lines, for which least squares has a closed form."""
    return WIDTHS - 0.95 * give_mm - (0.02 + 0.01 * WIDTHS) * float(np.log(ratio)) - 0.05


def test_a_linear_response_gives_the_closed_form() -> None:
    widths = straight(0.3, 1.1) + np.random.default_rng(2).normal(0, 0.02, len(WIDTHS))
    readings = gather([(k, [w]) for k, w in enumerate(widths.tolist())])
    fit = fit_readings(readings, COLUMNS, straight, start_mm=0.2, free_tension=True)
    slopes = np.stack([np.full(len(WIDTHS), -0.95), -(0.02 + 0.01 * WIDTHS)], 1)
    (give, tension), *_ = np.linalg.lstsq(slopes, widths - WIDTHS + 0.05, rcond=None)
    assert fit.hole_give_mm == pytest.approx(give, abs=1e-6)
    assert np.log(fit.tension_ratio) == pytest.approx(tension, abs=1e-6)
    spread = np.sqrt(np.diag(np.linalg.inv(slopes.T @ slopes))) * fit.column_scatter_mm * fit.widened
    assert (fit.hole_give_sigma_mm, fit.tension_sigma) == pytest.approx(tuple(spread), rel=1e-6)


def test_a_model_that_misses_widens_the_uncertainty() -> None:
    bent = straight(0.3, 1.0) - 0.15 * np.sin(WIDTHS)
    fit, right = (
        fit_readings(read(w, 3), COLUMNS, straight, start_mm=0.28) for w in (bent, straight(0.3, 1.0))
    )
    print(
        f"misfit {fit.misfit:.0f} at {fit.misfit_freedom}, widened {fit.widened:.1f}; "
        f"with the right model {right.misfit:.1f}"
    )
    assert fit.misfit > 4 * fit.misfit_freedom
    assert fit.widened == pytest.approx(np.sqrt(fit.misfit / fit.misfit_freedom))
    assert fit.hole_give_sigma_mm > 2 * right.hole_give_sigma_mm
    assert right.misfit < 3 * right.misfit_freedom


def test_scatter_tells_columns_from_readings() -> None:
    kind = np.unique([f"{c.stitches}{c.width_mm}" for c in COLUMNS], return_inverse=True)[1]
    found = [scatter_of(read(WIDTHS, seed, column_mm=0.05, reading_mm=0.03), kind, WIDTHS) for seed in SEEDS]
    assert np.mean([s.readings_mm for s in found]) == pytest.approx(0.03, rel=0.05)
    assert np.mean([s.sigma_mm**2 for s in found]) == pytest.approx(0.05**2 + 0.03**2 / 3, rel=0.1)


def test_readings_in_coarse_steps_are_not_taken_for_exact() -> None:
    """Rounded to 0.1 mm, columns sewn alike may read the same and yet be off by 0.1 / root 12."""
    steps = gather([(k, [round(w - 0.31, 1)] * 3) for k, w in enumerate(WIDTHS.tolist())])
    kind = np.unique(WIDTHS, return_inverse=True)[1]
    assert scatter_of(steps, kind, WIDTHS - 0.3).sigma_mm == pytest.approx(0.1 / np.sqrt(12))


def test_condition_of_slopes() -> None:
    """For two columns of length 1 at an angle it is the cotangent of half of it."""
    for angle in (0.1, 0.5, 1.2):
        slopes = np.array([[1.0, 5 * np.cos(angle)], [0.0, 5 * np.sin(angle)]])
        assert condition_of(slopes) == pytest.approx(1 / np.tan(angle / 2))


@pytest.mark.parametrize(
    ("readings", "choices", "says"),
    [
        (read(straight(0.3, 1), 0, only=where(width_mm=(4,))), {}, r"of 1 width and 3 are needed"),
        (
            read(straight(0.3, 1), 0, only=where(width_mm=(2, 3, 4))),
            {"free_tension": True},
            r"of 3 widths and 4",
        ),
        (read(straight(0.3, 1), 0, only=where(row=(1,))), {}, r"too few columns sewn alike"),
        (read(straight(0.3, 1), 0, column_mm=0.4), {}, r"too much to fit"),
        (read(WIDTHS + 0.2, 0), {}, r"wider than any cloth"),
        (read(straight(1.4, 1), 0), {}, r"which no cloth has"),
        (gather([(k, [w]) for k, w in enumerate(WIDTHS.tolist())]), {}, r"exactly as programmed, which"),
        (
            gather([(k, [w - 0.3]) for k, w in enumerate(WIDTHS.tolist())]),
            {},
            r"narrower by 0\.300 mm, which",
        ),
        (read(straight(0.3, 1), 0, column_mm=0.12), {"free_tension": True}, r"tension uncertain by \d+ %"),
    ],
)
def test_readings_that_cannot_say_are_refused(readings: Readings, choices: dict[str, Any], says: str) -> None:
    with pytest.raises(InputError, match=says) as refused:
        fit_readings(readings, COLUMNS, straight, start_mm=0.28, **choices)
    assert "\n" not in str(refused.value)


def test_tension_that_looks_like_hole_give_is_refused() -> None:
    def alike(give_mm: float, ratio: float) -> Floats:
        return WIDTHS - 0.95 * give_mm - 0.1 * float(np.log(ratio)) - 1e-4 * WIDTHS * float(np.log(ratio))

    readings = read(alike(0.3, 1), 0, column_mm=0.001, reading_mm=0.001)
    with pytest.raises(InputError, match=r"condition \d{3,}"):
        fit_readings(readings, COLUMNS, alike, start_mm=0.28, free_tension=True)
    # With a prior it stays what it was known to be.
    fit = fit_readings(readings, COLUMNS, alike, start_mm=0.28, tension_prior=0.2)
    assert fit.tension_ratio == pytest.approx(1, abs=0.02)
    assert fit.tension_sigma == pytest.approx(0.2, rel=0.05)
    # Not knowing the tension makes hole give uncertain by its share of it.
    assert fit.hole_give_sigma_mm == pytest.approx(0.2 * 0.1 / 0.95, rel=0.1)
