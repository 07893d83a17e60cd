"""Three small scenes against a path tracer that knows every filament: the same threads, the same light."""

from __future__ import annotations

import numpy as np
import pytest
from reference import pairs, scenes

# Mean FLIP, that of the worst 16 px window, and CIEDE2000 of the mean colours. The aim for the worst window
# is twice that of two seeds (0.12 to 0.16); the renderer misses it, and docs/optics.md says why.
MOST = {"satin-curve": (0.139, 0.222, 0.8), "fill-20": (0.131, 0.186, 1.2), "crossing": (0.131, 0.199, 0.9)}
# Stitches that are seen on more than 400 pixels: without any of them the test fails.
GONE = {
    "satin-curve": range(7, 21),
    "fill-20": [48, 52, 55, 56, 60, 61, 64, 68, 69, 72],
    "crossing": [0, 2, 4, 6, 9],
}


@pytest.mark.parametrize("name", list(scenes.SCENES))
def test_a_scene_looks_as_it_was_traced(name: str) -> None:
    strands, stack, turn = scenes.kept(name)
    assert scenes.turns(strands, stack) == pytest.approx(turn, abs=1e-4), "plies lie elsewhere: trace again"
    stack = scenes.filled(strands, stack, turn)
    traced = pairs.traced_pair(name)
    noise = pairs.distance(*traced)
    assert noise.flip < 0.05
    whole = pairs.distance(scenes.seen(scenes.drawn(strands, stack, pairs.ALBEDO)), pairs.both(traced))
    flip, worst, colour = MOST[name]
    assert whole.flip <= flip
    assert whole.worst <= worst
    assert whole.colour <= colour
    for stitch in GONE[name]:
        less = scenes.drawn(*scenes.without(strands, stack, stitch), pairs.ALBEDO)
        assert pairs.distance(scenes.seen(less), pairs.both(traced)).worst > worst


@pytest.mark.slow
def test_a_scene_traced_again_is_the_same_but_for_noise() -> None:
    """A few paths a pixel, in squares of 0.7 mm."""
    pytest.importorskip("mitsuba", reason="install the extra 'reference' to trace")
    again = scenes.traced(scenes.cords(*scenes.kept("crossing")), samples_n=4, seed=5)
    kept = scenes.light_of(pairs.both(pairs.traced_pair("crossing")))
    ours, theirs = (p.reshape(4, 28, 4, 28, 3).mean((1, 3)) for p in (again, kept))
    assert np.abs(ours - theirs).max() < 0.06
    assert ours.mean((0, 1)) == pytest.approx(theirs.mean((0, 1)), rel=0.04)
