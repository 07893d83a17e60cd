"""Fitting a fabric: what made the readings is found again, within what is said of it."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import chi2
from scipy.stats import t as student
from swatch_readings import COLUMNS, SEEDS, read, where

import render.fit
from render.fit import Fit, fit_fabric, fit_readings, swatch_response
from render.fit.readings import Readings, gather
from render.fit.solve import condition_of
from render.materials.job import make_job
from render.materials.machines import load_machine
from render.materials.stabilisers import holding_for
from render.plan import plan
from render.swatch import make_swatch, readings_template

Floats = NDArray[np.float64]
Respond = Callable[[float, float], Floats]

GIVE_MM = (0.2, 0.32, 0.44)
LOG_RATIO = {"twill": (0.0, 0.2), "jersey": (-0.2, 0.0, 0.1, 0.2, 0.3, 0.5)}
COARSE_MM = 2.5  # the tests are of the fit, not of the grid


def sewing_on(fabric: str) -> Respond:
    """The swatch sewn on a fabric for real, on a coarse grid."""
    sewing = plan(make_swatch().design, load_machine("unknown"))
    holding = holding_for(make_job(fabric=fabric), sewing.box_mm)
    return lambda give, ratio: swatch_response(sewing, COLUMNS, holding, give, ratio, cell_mm=COARSE_MM)


@cache
def smooth(fabric: str) -> Respond:
    """Between swatches sewn for real: quick to ask, for many draws. Parabolas in hole give."""
    sew, ratios = sewing_on(fabric), LOG_RATIO[fabric]
    table = np.array([[sew(give, float(np.exp(t))) for t in ratios] for give in GIVE_MM])

    def respond(give_mm: float, ratio: float) -> Floats:
        shares = [np.prod([(give_mm - b) / (a - b) for b in GIVE_MM if b != a]) for a in GIVE_MM]
        of_ratio = np.tensordot(np.array(shares), table, 1)
        t = float(np.log(ratio))
        low = min(max(int(np.searchsorted(ratios, t)) - 1, 0), len(ratios) - 2)
        share = (t - ratios[low]) / (ratios[low + 1] - ratios[low])
        between: Floats = of_ratio[low] * (1 - share) + of_ratio[low + 1] * share
        return between

    return respond


@cache
def truth(fabric: str, give_mm: float, ratio: float) -> Floats:
    return sewing_on(fabric)(give_mm, ratio)


def covered(fits: list[Fit], give_mm: float, ratio: float) -> tuple[float, float]:
    """The share of 95 % intervals that hold the truth, of hole give and of tension."""
    inside = []
    for fit in fits:
        wide = float(student.ppf(0.975, fit.scatter_freedom))
        inside.append(
            (
                abs(fit.hole_give_mm - give_mm) < wide * fit.hole_give_sigma_mm,
                abs(np.log(fit.tension_ratio / ratio)) < wide * fit.tension_sigma,
            )
        )
    give, tension = np.mean(inside, axis=0)
    return float(give), float(tension)


@pytest.mark.slow
@pytest.mark.parametrize(("fabric", "give_mm"), [("jersey", 0.33), ("twill", 0.24)])
def test_hole_give_alone_is_found_within_its_interval(fabric: str, give_mm: float) -> None:
    widths = truth(fabric, give_mm, 1.0)
    fits = [fit_readings(read(widths, s), COLUMNS, smooth(fabric), start_mm=0.28) for s in SEEDS]
    share, _ = covered(fits, give_mm, 1.0)
    found = np.array([fit.hole_give_mm for fit in fits])
    print(
        f"{fabric}: {found.mean():.4f} of {give_mm}, scatter {found.std():.4f}, "
        f"said {np.mean([fit.hole_give_sigma_mm for fit in fits]):.4f}, {share:.0%} of 95 % intervals"
    )
    assert 0.85 <= share <= 1.0
    assert abs(found.mean() - give_mm) < 0.004
    # What is said of a fit is about what fits scatter by: neither boast nor blur.
    assert 0.7 < np.mean([fit.hole_give_sigma_mm for fit in fits]) / found.std() < 1.7


@pytest.mark.slow
@pytest.mark.parametrize("prior", [None, 0.3])
def test_tension_is_found_with_hole_give_from_several_widths_and_repeats(prior: float | None) -> None:
    give_mm, ratio = 0.33, 1.25
    widths = truth("jersey", give_mm, ratio)
    fits = [
        fit_readings(
            read(widths, seed),
            COLUMNS,
            smooth("jersey"),
            start_mm=0.28,
            free_tension=prior is None,
            tension_prior=prior,
        )
        for seed in SEEDS
    ]
    give, tension = covered(fits, give_mm, ratio)
    print(
        f"prior {prior}: hole give {np.mean([f.hole_give_mm for f in fits]):.3f} of {give_mm} ({give:.0%}), "
        f"tension {np.mean([f.tension_ratio for f in fits]):.3f} of {ratio} ± "
        f"{np.mean([f.tension_sigma for f in fits]):.2f} ({tension:.0%}), condition {fits[0].condition:.1f}"
    )
    assert 0.85 <= give <= 1.0
    assert 0.85 <= tension <= 1.0
    if prior is not None:
        assert max(fit.tension_sigma for fit in fits) < prior * max(fit.widened for fit in fits)


def test_taking_tension_for_granted_moves_hole_give_by_as_much_as_is_said() -> None:
    give_mm = 0.33
    usual, tight = (
        fit_readings(
            read(truth("jersey", give_mm, ratio), 1, column_mm=0.01, reading_mm=0.01),
            COLUMNS,
            smooth("jersey"),
            start_mm=0.3,
        )
        for ratio in (1.0, 1.25)
    )
    moved = tight.hole_give_mm - usual.hole_give_mm
    said = -usual.give_by_tension_mm * np.log(1.25)
    print(f"tension 25 % up, not fitted: hole give reads {moved:.4f} mm more, {said:.4f} said")
    assert moved == pytest.approx(said, rel=0.25)
    assert moved > 3 * usual.hole_give_sigma_mm


@pytest.mark.slow
def test_the_swatch_sewn_anew_at_each_step_finds_what_made_the_readings() -> None:
    """Two shops' readings: what is found lies around the truth as the stated sigmas say."""
    give_mm, ratio = 0.36, 1.2
    off = []
    for seed in (1, 2):
        fit = fit_readings(
            read(truth("jersey", give_mm, ratio), seed, column_mm=0.01, reading_mm=0.01),
            COLUMNS,
            sewing_on("jersey"),
            start_mm=0.28,
            free_tension=True,
        )
        assert 2 * fit.hole_give_sigma_mm < 0.02
        assert 2 * fit.tension_sigma < 0.25
        off.append(
            [
                (fit.hole_give_mm - give_mm) / fit.hole_give_sigma_mm,
                np.log(fit.tension_ratio / ratio) / fit.tension_sigma,
            ]
        )
    assert (np.square(off).sum(0) < chi2.ppf(0.95, len(off))).all()


@pytest.mark.slow
def test_from_the_list_to_the_fabric_with_nothing_made_up(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Readings of a swatch sewn on piqué with other holes, through the shop's own list."""
    monkeypatch.setattr(render.fit, "CELL_MM", COARSE_MM)
    give_mm = 0.31
    widths, chance = truth("pique", give_mm, 1.0), np.random.default_rng(4)
    by_name = {(str(c.row), str(c.width_mm)): w for c, w in zip(COLUMNS, widths, strict=True)}
    lines = readings_template(make_swatch()).splitlines()
    for k, line in enumerate(lines[1:], 1):
        fields = line.split(",")
        read_mm = by_name[fields[0], fields[1]] + chance.normal(0, 0.03)
        lines[k] = ",".join([*fields[:4], *(f"{read_mm + chance.normal(0, 0.03):.2f}" for _ in range(3))])
    (tmp_path / "list.csv").write_text("\n".join(lines))
    shares: list[float] = []
    fitted = fit_fabric([str(tmp_path / "list.csv")], make_job(fabric="pique"), progress=shares.append)
    fit = fitted.fit
    print(f"{fit.hole_give_mm:.4f} ± {fit.hole_give_sigma_mm:.4f} of {give_mm}, {len(shares)} sewn")
    assert abs(fit.hole_give_mm - give_mm) < 2.5 * fit.hole_give_sigma_mm < 0.025
    assert shares == sorted(shares)
    assert 0 < shares[0] < shares[-1] <= 1


def test_in_a_hurry_one_reading_of_three_rows_is_enough_for_hole_give() -> None:
    """As the sheet says."""
    widths, give_mm = truth("jersey", 0.33, 1.0), 0.33
    some = where(row=(1, 2, 3))

    def hurried(seed: int) -> Readings:
        chance = np.random.default_rng(seed)
        return gather([(k, [float(round(widths[k] + chance.normal(0, 0.045), 2))]) for k in some])

    fits = [fit_readings(hurried(seed), COLUMNS, smooth("jersey"), start_mm=0.28) for seed in SEEDS]
    share, _ = covered(fits, give_mm, 1.0)
    print(
        f"in a hurry: ± {np.mean([f.hole_give_sigma_mm for f in fits]):.3f} mm, {share:.0%} of 95 % intervals"
    )
    assert 0.85 <= share <= 1.0
    assert max(fit.hole_give_sigma_mm for fit in fits) < 0.03


@pytest.mark.slow
def test_what_the_swatch_can_tell_and_what_it_cannot() -> None:
    """Condition and uncertainty for columns that scatter by 0.05 mm, as printed in the documents."""
    for fabric in ("twill", "jersey"):
        respond = smooth(fabric)
        base = respond(0.3, 1.0)
        slopes = np.stack(
            [(respond(0.32, 1.0) - base) / 0.02, (respond(0.3, float(np.exp(0.2))) - base) / 0.2], 1
        )
        alone = 0.05 / np.sqrt((slopes[:, 0] ** 2).sum())
        both = 0.05 * np.sqrt(np.diag(np.linalg.inv(slopes.T @ slopes)))
        print(
            f"{fabric}: condition {condition_of(slopes):.1f}; hole give ± {alone:.3f} mm alone, "
            f"± {both[0]:.3f} with tension, which is ± {both[1]:.0%}"
        )
        assert alone < 0.012
        assert both[0] > 1.5 * alone
