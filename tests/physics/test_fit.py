"""Fitting a fabric: what made the readings is found again, within what is said of it, or refused."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import chi2
from scipy.stats import t as student

import render.fit
from render.errors import InputError
from render.fit import Fit, fit_fabric, fit_readings, swatch_response
from render.fit.readings import Readings, gather
from render.fit.solve import condition_of, scatter_of
from render.materials.job import make_job
from render.materials.machines import load_machine
from render.materials.stabilisers import holding_for
from render.plan import plan
from render.swatch import make_swatch, readings_template

Floats = NDArray[np.float64]
Respond = Callable[[float, float], Floats]

COLUMNS = make_swatch().columns
WIDTHS = np.array([float(column.width_mm) for column in COLUMNS])
GIVE_MM = (0.2, 0.32, 0.44)
LOG_RATIO = {"twill": (0.0, 0.2), "jersey": (-0.2, 0.0, 0.1, 0.2, 0.3, 0.5)}
SEEDS = range(40)
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


def read(
    widths_mm: Floats, seed: int, *, column_mm: float = 0.03, reading_mm: float = 0.03, **kept: Any
) -> Readings:
    """Three readings of each column to 0.01 mm, each column and each reading off by chance."""
    chance = np.random.default_rng(seed)
    columns = widths_mm + chance.normal(0, column_mm, len(COLUMNS))
    readings = np.round(columns[:, None] + chance.normal(0, reading_mm, (len(COLUMNS), 3)), 2)
    some = kept.get("only", range(len(COLUMNS)))
    return gather([(k, readings[k].tolist()) for k in some])


def where(**wanted: Any) -> list[int]:
    return [k for k, c in enumerate(COLUMNS) if all(getattr(c, n) in v for n, v in wanted.items())]


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


def test_the_swatch_sewn_anew_at_each_step_finds_what_made_the_readings() -> None:
    """Four shops' readings: what is found lies around the truth as the stated sigmas say."""
    give_mm, ratio = 0.36, 1.2
    off = []
    for seed in (1, 2, 3, 5):
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
