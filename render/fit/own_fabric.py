"""The fabric file that a fit is kept in, and the fit in words."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from render.materials.own_file import quoted
from render.words import printable

if TYPE_CHECKING:
    from collections.abc import Iterator

    from render.fit import FittedFabric

TENSION_DOUBT = 1.2  # times the usual: how much the tension of two well-set machines may differ (estimate)


def account_of(
    fitted: FittedFabric, *, held: str, needle_tension_n: float | None, tension_prior: float | None
) -> dict[str, Any]:
    """The fit as plain values that JSON can hold; a sigma is one standard deviation."""
    fit, readings, holding = fitted.fit, fitted.readings, fitted.holding
    furthest = int(np.abs(fit.departure_mm).argmax())
    column = fitted.columns[readings.column[furthest]]
    return {
        "fabric": holding.fabric.name,
        "stabiliser": "none" if holding.stabiliser is None else holding.stabiliser.name,
        "held": held,
        "hoop": holding.hoop.name,
        "needle_tension_n": needle_tension_n,
        "columns": len(readings.column),
        "readings": int(readings.count.sum()),
        "hole_give_mm": round(fit.hole_give_mm, 4),
        "hole_give_sigma_mm": round(fit.hole_give_sigma_mm, 4),
        "hole_give_before_mm": holding.fabric.hole_give_mm,
        "tension_fitted": fit.tension_fitted,
        "tension_prior": tension_prior,
        "tension_ratio": round(holding.fabric.tension_ratio * fit.tension_ratio, 4),
        "tension_sigma_percent": round(100 * fit.tension_sigma, 1),
        "hole_give_change_if_tension_20_percent_higher_mm": round(
            fit.give_by_tension_mm * float(np.log(TENSION_DOUBT)), 4
        ),
        "scatter_between_columns_mm": round(fit.column_scatter_mm, 4),
        "scatter_on_a_column_mm": None
        if np.isnan(fit.reading_scatter_mm)
        else round(fit.reading_scatter_mm, 4),
        "misfit_chi_squared": round(fit.misfit, 2),
        "misfit_degrees_of_freedom": fit.misfit_freedom,
        "uncertainties_widened": round(fit.widened, 2),
        "condition": round(fit.condition, 1),
        "furthest": {
            "row": column.row,
            "width_mm": column.width_mm,
            "read_less_fitted_mm": round(float(fit.departure_mm[furthest]), 3),
        },
    }


def fabric_file(account: dict[str, Any], *, title: str, based_on: str) -> str:
    """The TOML of a fabric that is another one but for what was fitted."""
    comments = [f"# {printable(line)}" for line in summary_of(account)]
    values = [f"hole_give_mm = {account['hole_give_mm']:.3f}  # ± {account['hole_give_sigma_mm']:.3f}"]
    if account["tension_fitted"]:
        values.append(
            f"tension_ratio = {account['tension_ratio']:.3f}  # ± {account['tension_sigma_percent']:.0f} %"
        )
    source = f"fitted to {_sewn_on(account, 'columns of the test swatch')}"
    return "\n".join(
        [
            *comments,
            f"title = {quoted(title + ', as fitted')}",
            f"based_on = {quoted(based_on)}",
            "",
            "[stiffness]",
            *values,
            f"source = {quoted(source)}",
            "",
        ]
    )


def summary_of(account: dict[str, Any]) -> Iterator[str]:
    """The fit in lines for people."""
    yield _sewn_on(account, f"columns on {account['fabric']}")
    on_one = account["scatter_on_a_column_mm"]
    also = "" if on_one is None else f", readings on one column by {on_one:.3f} mm"
    yield f"columns sewn alike differ by {account['scatter_between_columns_mm']:.3f} mm{also} (one sigma)"
    yield (
        f"hole give {account['hole_give_mm']:.3f} mm, {account['hole_give_before_mm']:.3f} before; "
        f"by the readings ± {account['hole_give_sigma_mm']:.3f} mm (one sigma)"
    )
    if account["tension_fitted"]:
        prior = account["tension_prior"]
        known = "" if prior is None else f", taken as known within {100 * prior:.0f} % beforehand"
        yield (
            f"tension left in a stitch {account['tension_ratio']:.2f} times the usual, "
            f"± {account['tension_sigma_percent']:.0f} % (one sigma){known}"
        )
    else:
        change = account["hole_give_change_if_tension_20_percent_higher_mm"]
        yield (
            f"tension taken as usual, not fitted: were it 20 % higher, hole give would be "
            f"{abs(change):.3f} mm {'lower' if change < 0 else 'higher'}"
        )
    yield _misfit_words(account)
    worst = account["furthest"]
    off = worst["read_less_fitted_mm"]
    yield (
        f"furthest off: row {worst['row']}, {worst['width_mm']} mm, read {abs(off):.2f} mm "
        f"{'wider' if off > 0 else 'narrower'} than fitted"
    )


def _misfit_words(account: dict[str, Any]) -> str:
    figures = (
        f"misfit: chi squared {account['misfit_chi_squared']:.1f} "
        f"at {account['misfit_degrees_of_freedom']} degrees of freedom"
    )
    widened = account["uncertainties_widened"]
    return figures + (f", uncertainties widened {widened:.1f} times" if widened > 1.05 else "")


def _sewn_on(account: dict[str, Any], columns: str) -> str:
    under = "no stabiliser" if account["stabiliser"] == "none" else account["stabiliser"]
    gauge = account["needle_tension_n"]
    return (
        f"{account['readings']} readings of {account['columns']} {columns}: {under}, {account['held']}, "
        f"hoop {account['hoop']}" + ("" if gauge is None else f", needle thread at {gauge:g} N")
    )
