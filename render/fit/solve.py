"""What readings say of a cloth: the give of its needle holes, and how hard stitches pull on it.

Weighted least squares on the mean width of each column, by Gauss-Newton steps with the swatch
sewn anew at each: reading_i = width_i(a, t) + error_i, a the hole give in mm and t the logarithm
of the tension left in a stitch against the usual one. To first order every column loses what
the hole gives, so a is well seen in few readings; t is seen only in how the loss grows with
width, so it needs many readings or something known beforehand. A constant error of the calliper
or the eye looks just like hole give and ends up in it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from render.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from render.fit.readings import Readings
    from render.model import Floats
    from render.swatch import Column

    Respond = Callable[[float, float], Floats]

LEAST_WIDTHS, LEAST_WIDTHS_WITH_TENSION = 3, 4
LEAST_SPARE = 4  # columns sewn alike beyond one of each kind: they show the scatter
LEAST_SCATTER_MM, MOST_SCATTER_MM = 0.01, 0.2  # of columns sewn alike; nobody reads finer (estimate)
MOST_CONDITION = 30.0  # Belsley, Kuh & Welsch, Regression Diagnostics (1980), from memory: harmful above
MOST_TENSION_SIGMA = 0.5  # of the logarithm: else the readings do not say (estimate)
MOST_GIVE_MM, MOST_TENSION_RATIO = 1.0, 4.0  # no cloth or stitch goes beyond (estimate)
STEP_MM, STEP = 0.02, 0.2  # for the slopes; over shorter ones single columns are uneven by 0.01 mm
MOST_ROUNDS = 6
SETTLED_MM, SETTLED = 0.003, 0.03  # steps so small that the slopes foretell the rest


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """A fitted cloth. A `sigma` is one standard deviation; `tension_sigma` is of the logarithm.

    Tension is fitted only where `tension_fitted`. `give_by_tension_mm` is how the hole give
    would change if the logarithm of the tension rose by 1. `column_scatter_mm` is of the means
    of columns sewn alike, `reading_scatter_mm` of readings on one column (nan where each has but
    one). `misfit` is chi squared of the kinds of column about the model, at `misfit_freedom`
    degrees of freedom; where it is larger than that, the sigmas are `widened` by its root.
    `condition` is of the slopes, each scaled to length 1. `departure_mm (M,)` is read less fitted.
    """

    hole_give_mm: float
    hole_give_sigma_mm: float
    tension_ratio: float
    tension_sigma: float
    tension_fitted: bool
    give_by_tension_mm: float
    column_scatter_mm: float
    reading_scatter_mm: float
    scatter_freedom: int
    misfit: float
    misfit_freedom: int
    widened: float
    condition: float
    departure_mm: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Scatter:
    """How far columns sewn alike differ: standard deviation of each column's mean `sigma_mm (M,)`."""

    sigma_mm: Floats
    columns_mm: float
    readings_mm: float
    freedom: int


def fit_readings(
    readings: Readings,
    columns: tuple[Column, ...],
    respond: Respond,
    *,
    start_mm: float,
    free_tension: bool = False,
    tension_prior: float | None = None,
) -> Fit:
    """Fit hole give, and tension where it is freed or known beforehand to a share `tension_prior`.

    `respond(hole_give_mm, tension_ratio)` gives the width (C,) of every column of the swatch, mm.
    Raises InputError where the readings cannot say.
    """
    with_tension = free_tension or tension_prior is not None
    kind = _kinds(readings, columns)
    _check_enough(readings, columns, kind, LEAST_WIDTHS_WITH_TENSION if free_tension else LEAST_WIDTHS)

    sewn = cache(respond)  # the start is asked for twice

    def model(theta: Floats) -> Floats:
        return sewn(float(theta[0]), float(np.exp(theta[1])))[readings.column]

    start = np.array([start_mm, 0.0])
    scatter = scatter_of(readings, kind, model(start))
    _check_scatter(scatter)
    weight, free = scatter.sigma_mm**-2, np.array([True, with_tension])
    prior = np.array([0.0, 1.0 / tension_prior**2 if tension_prior is not None else 0.0])
    must_show = free_tension and tension_prior is None
    best = _least_squares(model, start, readings.mean_mm, weight, prior=prior, free=free, must_show=must_show)
    theta, fitted, slopes = best.theta, best.fitted_mm, best.slopes
    spread = np.linalg.inv(_normal(slopes, weight, prior, free))
    departure = readings.mean_mm - fitted
    misfit, freedom = _misfit(departure, weight, kind, int(free.sum()))
    widened = max(1.0, float(np.sqrt(misfit / freedom))) if freedom > 0 else 1.0
    sigma = widened * np.sqrt(np.diag(spread))
    give, tension = slopes.T
    return Fit(
        hole_give_mm=float(theta[0]),
        hole_give_sigma_mm=float(sigma[0]),
        tension_ratio=float(np.exp(theta[1])),
        tension_sigma=float(sigma[1]) if with_tension else 0.0,
        tension_fitted=with_tension,
        give_by_tension_mm=float(-(weight * give) @ tension / ((weight * give) @ give)),
        column_scatter_mm=scatter.columns_mm,
        reading_scatter_mm=scatter.readings_mm,
        scatter_freedom=scatter.freedom,
        misfit=misfit,
        misfit_freedom=freedom,
        widened=widened,
        condition=condition_of(slopes),
        departure_mm=departure,
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Best:
    """Hole give and logarithm of tension `theta (2,)`, the widths (M,) there, and their slopes (M, 2)."""

    theta: Floats
    fitted_mm: Floats
    slopes: Floats


def _least_squares(
    model: Callable[[Floats], Floats],
    theta: Floats,
    read_mm: Floats,
    weight: Floats,
    *,
    prior: Floats,
    free: NDArray[np.bool_],
    must_show: bool,
) -> _Best:
    """Gauss-Newton steps from `theta`; slopes are taken anew only after a long one."""
    fitted = model(theta)
    slopes = _slopes(model, theta, fitted)
    for _ in range(MOST_ROUNDS):
        normal = _normal(slopes, weight, prior, free)
        if must_show:
            _check_seen(slopes, normal)
        pull = (slopes.T @ (weight * (read_mm - fitted)) - prior * theta)[free]
        step = np.zeros(2)
        step[free] = np.linalg.solve(normal, pull)
        theta = theta + step
        _check_possible(theta)
        if abs(step[0]) < SETTLED_MM and abs(step[1]) < SETTLED:
            fitted = fitted + slopes @ step
            break
        fitted = model(theta)
        if abs(step[0]) > 10 * STEP_MM or abs(step[1]) > 1.5 * STEP:
            slopes = _slopes(model, theta, fitted)
    return _Best(theta, fitted, slopes)


def _normal(slopes: Floats, weight: Floats, prior: Floats, free: NDArray[np.bool_]) -> Floats:
    some = slopes[:, free]
    normal: Floats = some.T @ (weight[:, None] * some) + np.diag(prior[free])
    return normal


def condition_of(slopes: Floats) -> float:
    """Condition number of the slopes (M, P), each column scaled to length 1."""
    values = np.linalg.svd(slopes / np.sqrt((slopes**2).sum(0)), compute_uv=False)
    return float(values[0] / max(values[-1], 1e-12))


def scatter_of(readings: Readings, kind: NDArray[np.int64], fitted_mm: Floats) -> Scatter:
    """Scatter by two pooled variances: of readings on one column, and of columns sewn alike.

    Columns sewn alike lie at different places; what the model says of that is taken off first.
    """
    departure = readings.mean_mm - fitted_mm
    inside = int((readings.count - 1).sum())
    reading = float(readings.departures_mm2.sum() / inside) if inside else 0.0
    freedom = len(kind) - len(np.unique(kind))
    alike = departure - (np.bincount(kind, departure) / np.bincount(kind))[kind]
    column = float((alike**2).sum() / freedom)
    own = max(column - reading * float((1 / readings.count).mean()), 0.0)
    # Rounding to a step may hide scatter; as an error it has the step over root 12.
    least = max(LEAST_SCATTER_MM, readings.finest_mm / 12**0.5)
    return Scatter(
        np.sqrt(np.maximum(own + reading / readings.count, least**2)),
        float(np.sqrt(column)),
        float(np.sqrt(reading)) if inside else float("nan"),
        freedom,
    )


def _kinds(readings: Readings, columns: tuple[Column, ...]) -> NDArray[np.int64]:
    """Which measured columns (M,) are sewn alike: same width and same way."""
    names = [f"{columns[k].stitches} {columns[k].width_mm}" for k in readings.column]
    return np.unique(names, return_inverse=True)[1].astype(np.int64)


def _check_enough(
    readings: Readings, columns: tuple[Column, ...], kind: NDArray[np.int64], least_widths: int
) -> None:
    programmed = np.array([columns[k].width_mm for k in readings.column])
    widths = len(np.unique(programmed))
    if widths < least_widths:
        raise InputError(
            f"the readings are of {widths} width{'s' if widths > 1 else ''} and {least_widths} are needed "
            "to tell what the needle holes give from what the cloth does: measure more columns"
        )
    if len(kind) - len(np.unique(kind)) < LEAST_SPARE:
        raise InputError(
            "too few columns sewn alike were measured to see how far readings scatter: "
            "measure the same widths in two rows or more"
        )
    narrowed = programmed - readings.mean_mm
    if np.ptp(narrowed) < 1e-6:
        how = "exactly as programmed" if abs(narrowed[0]) < 1e-6 else f"narrower by {narrowed[0]:.3f} mm"
        raise InputError(f"every column reads {how}, which no sewn swatch does: write down what was measured")


def _check_scatter(scatter: Scatter) -> None:
    if scatter.columns_mm > MOST_SCATTER_MM:
        raise InputError(
            f"columns sewn alike differ by {scatter.columns_mm:.2f} mm from each other (one standard "
            "deviation), too much to fit: sew the swatch anew on flat, evenly hooped cloth, or measure again"
        )


def _check_seen(slopes: Floats, normal: Floats) -> None:
    """Refuse a tension that the readings do not show apart from the hole give."""
    condition = condition_of(slopes)
    sigma = float(np.sqrt(np.linalg.inv(normal)[1, 1])) if condition < 1e6 else float("inf")
    if condition > MOST_CONDITION or sigma > MOST_TENSION_SIGMA:
        raise InputError(
            f"these readings leave the tension uncertain by {100 * np.expm1(min(sigma, 3.0)):.0f} % "
            f"(condition {condition:.0f}): fit hole give alone, give a --tension-prior, or add the readings "
            "of more swatches"
        )


def _check_possible(theta: Floats) -> None:
    give, tension = float(theta[0]), float(np.exp(theta[1]))
    if give < 0:
        raise InputError(
            "the columns read wider than any cloth would sew them: check that the calliper reads 0 shut, "
            "and measure from edge to edge of the stitching"
        )
    if give > MOST_GIVE_MM or not 1 / MOST_TENSION_RATIO <= tension <= MOST_TENSION_RATIO:
        raise InputError(
            f"the readings ask for a hole give of {give:.2f} mm and {tension:.2g} times the usual tension, "
            "which no cloth has: check the fabric, the stabiliser and the readings"
        )


def _slopes(model: Callable[[Floats], Floats], theta: Floats, fitted: Floats) -> Floats:
    """How the widths (M, 2) change with hole give and with the logarithm of tension."""
    steps = np.diag([STEP_MM, STEP])
    return np.stack([(model(theta + step) - fitted) / step.sum() for step in steps], 1)


def _misfit(departure: Floats, weight: Floats, kind: NDArray[np.int64], free: int) -> tuple[float, int]:
    """Chi squared of each kind's mean departure, and its degrees of freedom."""
    total = np.bincount(kind, weight)
    mean = np.bincount(kind, weight * departure) / total
    return float((total * mean**2).sum()), len(total) - free
