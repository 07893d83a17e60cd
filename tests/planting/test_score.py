"""The inspection finds what is planted, says how large it is, and alleges next to nothing else."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[2] / "examples"))

from planting.faults import faults
from planting.score import Score, interval, total

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def scores() -> dict[str, Score]:
    return total(seed=1, each=1)


def test_what_is_twice_over_its_limit_is_found(scores: dict[str, Score]) -> None:
    planted = sum(one.planted for one in scores.values())
    found = sum(one.found for one in scores.values())
    assert planted > 50
    assert all(scores[kind].planted for kind in faults())
    assert found >= 0.97 * planted, [line for one in scores.values() for line in one.wrong]


def test_hardly_anything_is_alleged(scores: dict[str, Score]) -> None:
    true, false = sum(one.true for one in scores.values()), sum(one.false for one in scores.values())
    assert true > 75
    assert true >= 0.95 * (true + false), [line for one in scores.values() for line in one.wrong]


def test_sizes_agree_with_the_twins(scores: dict[str, Score]) -> None:
    sized, right = sum(one.sized for one in scores.values()), sum(one.size_right for one in scores.values())
    assert sized > 50
    assert right >= 0.95 * sized, [line for one in scores.values() for line in one.wrong]


# Wilson 1927: the interval of 10 in 10 is 0.722 to 1; of 5 in 10 0.237 to 0.763.
@pytest.mark.parametrize(("hits", "low", "high"), [(10, 0.722, 1.0), (5, 0.237, 0.763)])
def test_interval_of_a_share(hits: int, low: float, high: float) -> None:
    assert interval(hits, 10) == pytest.approx((low, high), abs=1e-3)
