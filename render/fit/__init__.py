"""Fit a fabric to the shop's own machine, from readings of the sewn test swatch."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from render.errors import UsageError
from render.fit.readings import read_readings
from render.fit.solve import Fit, fit_readings
from render.materials.machines import load_machine
from render.materials.stabilisers import holding_for
from render.plan import plan
from render.sew import sew
from render.swatch import make_swatch

if TYPE_CHECKING:
    from collections.abc import Callable

    from render.fit.readings import Readings
    from render.model import Floats, Holding, Job, SewPlan
    from render.swatch import Column

__all__ = ["Fit", "FittedFabric", "fit_fabric", "fit_readings", "read_readings", "swatch_response"]

CELL_MM = 1.0  # as finely as small designs are sewn: on coarser grids narrow columns narrow less


@dataclass(frozen=True, slots=True, eq=False)
class FittedFabric:
    """A fit with what it was made on and from."""

    fit: Fit
    readings: Readings
    columns: tuple[Column, ...]
    holding: Holding


def fit_fabric(
    paths: list[str],
    job: Job,
    *,
    free_tension: bool = False,
    tension_prior: float | None = None,
    progress: Callable[[float], None] | None = None,
) -> FittedFabric:
    """Fit the job's fabric to the readings in these files, on its stabiliser and in its hoop.

    Raises InputError where the readings cannot be used, or cannot say what is asked of them, and
    UsageError for a hoop that the swatch cannot have been sewn in.
    """
    swatch = make_swatch()
    readings = read_readings(paths, swatch.columns)
    sewing = plan(swatch.design, load_machine("unknown"))
    holding = holding_for(job, sewing.box_mm)
    _check_hoop(sewing, holding)
    done = 0

    def respond(hole_give_mm: float, tension_ratio: float) -> Floats:
        nonlocal done
        widths = swatch_response(
            sewing, swatch.columns, holding, hole_give_mm, tension_ratio, cell_mm=CELL_MM
        )
        done += 1
        if progress is not None:
            progress(1 - 0.75**done)  # how many more it takes shows only at the end
        return widths

    fit = fit_readings(
        readings,
        swatch.columns,
        respond,
        start_mm=holding.fabric.hole_give_mm,
        free_tension=free_tension,
        tension_prior=tension_prior,
    )
    return FittedFabric(fit, readings, swatch.columns, holding)


def _check_hoop(sewing: SewPlan, holding: Holding) -> None:
    left, top, right, bottom = sewing.box_mm
    if right - left > holding.hoop.width_mm or bottom - top > holding.hoop.height_mm:
        raise UsageError(
            f"the swatch of {right - left:.0f} x {bottom - top:.0f} mm does not fit the hoop "
            f"{holding.hoop.name}: name the one that it was sewn in"
        )


def swatch_response(
    sewing: SewPlan,
    columns: tuple[Column, ...],
    holding: Holding,
    hole_give_mm: float,
    tension_ratio: float,
    *,
    cell_mm: float,
) -> Floats:
    """Width (C,) of every column of the swatch as sewn, mm, read where a shop reads it.

    `tension_ratio` multiplies what the holding has; `cell_mm` is of the grid.
    """
    fabric = replace(holding.fabric, hole_give_mm=hole_give_mm)
    held = replace(holding, fabric=fabric, tension_n=holding.tension_n * tension_ratio)
    sewn = sew(sewing, held, cell_mm=cell_mm)
    before = np.hypot(*(sewing.end_mm - sewing.start_mm).T)
    after = np.hypot(*(sewn.end_mm - sewn.start_mm).T)
    # Stitches lie aslant: what a calliper reads is narrower by what their length loses.
    return np.array(
        [c.width_mm - float((before - after)[c.measured].mean()) for c in columns], dtype=np.float64
    )
