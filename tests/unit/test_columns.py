"""Rows of eight turned into columns: what is compiled is what the plain code says, to the last bit."""

from __future__ import annotations

from typing import Any

import numpy as np

from render.columns import EIGHT, mix_eight, turn_between, turn_eight, turn_four
from render.compiled import njit

FAR = 19  # from one column to the next: no whole number of vectors
ROWS, WIDE = 50, 11


def turned(table: Any, rows: Any, out: Any) -> None:
    turn_eight(table, rows, 3, WIDE, out, 5, FAR)


def narrow(table: Any, rows: Any, out: Any) -> None:
    turn_four(table, rows, 3, WIDE, out, 5, FAR)


def between(table: Any, rows: Any, out: Any) -> None:
    turn_between(table, rows, 3, WIDE, out, 1, out, 5 + 8 * FAR, FAR)


def mixed(table: Any, rows: Any, out: Any) -> None:
    mix_eight(table, rows, 3, 12, WIDE, 4 * WIDE, out, 0, 5 + 8 * FAR, FAR)


def test_numbers_are_turned_as_they_are() -> None:
    chance = np.random.default_rng(5)
    table = chance.normal(size=ROWS * WIDE).astype(np.float32)
    rows = chance.integers(0, ROWS - 6, 24).astype(np.int32)
    for work in (turned, narrow, between, mixed):
        want = chance.random(20 * FAR).astype(np.float32)
        got = want.copy()
        work(table, rows, want)
        njit(work)(table, rows, got)
        np.testing.assert_array_equal(got, want)


def test_whole_numbers_are_turned_too() -> None:
    table, rows = np.arange(ROWS * WIDE, dtype=np.int32), np.arange(40, 16, -1, dtype=np.int32)
    out = np.zeros(20 * FAR, np.int32)
    njit(turned)(table, rows, out)
    for k in range(EIGHT):
        np.testing.assert_array_equal(out[5 + FAR * k : 5 + FAR * k + EIGHT], rows[3:11] * WIDE + k)
    assert np.count_nonzero(out) == EIGHT * EIGHT
