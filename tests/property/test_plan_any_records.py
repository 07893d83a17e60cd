"""Whatever the records, a plan is whole; its kernels agree with their slow twins."""

from __future__ import annotations

import naive
import numpy as np
import plan_pieces as made
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from render.errors import InputError
from render.model import Command, Design
from render.plan import cover, plan, rows

MACHINES = st.sampled_from([made.UNSURE, made.CUTTER, made.NO_CUTTER])


@st.composite
def designs(draw: st.DrawFn) -> Design:
    """Wanderings on the 0.1 mm grid, mostly stitches, with all commands in between."""
    n = draw(st.integers(0, 80))
    command = draw(
        st.lists(st.sampled_from([Command.STITCH] * 8 + list(Command) * 2), min_size=n, max_size=n)
    )
    step = st.integers(-40, 40) | st.sampled_from([0, 4, -4, 121])
    steps = draw(st.lists(st.tuples(step, step), min_size=n, max_size=n))
    return made.design_of(
        np.cumsum(np.array(steps, float).reshape(-1, 2), axis=0) / 10,
        command,
        trim_rule=draw(st.sampled_from(["explicit", "every-jump", "inferred", "by-length", "never"])),
        split=draw(st.booleans()),
    )


@settings(max_examples=300)
@given(design=designs(), machine=MACHINES, degrees=st.floats(-400, 400), mirror=st.booleans())
def test_a_plan_is_whole(design: Design, machine: made.Machine, degrees: float, mirror: bool) -> None:
    try:
        planned = plan(design, machine, rotate_deg=degrees, mirror=mirror)
    except InputError:
        points = design.xy_mm[design.command == Command.STITCH]
        # Nothing sewn: no two needle points follow each other directly on different spots.
        direct = (design.command[1:] == Command.STITCH) & (design.command[:-1] == Command.STITCH)
        assert len(points) < 2 or not np.any(np.diff(design.xy_mm, axis=0)[direct])
        return
    n = len(planned.start_mm)
    # Every stitch belongs to one object and one block, in order.
    assert [o.index for o in planned.objects] == list(range(len(planned.objects)))
    assert sum(o.last - o.first + 1 for o in planned.objects) == n
    assert all((planned.object_index[o.first : o.last + 1] == o.index).all() for o in planned.objects)
    assert sum(b.last - b.first + 1 for b in planned.blocks) == n
    for block in planned.blocks:
        assert (planned.colour_block[block.first : block.last + 1] == block.index).all()
    assert planned.blocks[-1].ends_with == "end"
    for thing in planned.objects:
        assert len(set(planned.colour_block[thing.first : thing.last + 1].tolist())) == 1
        assert not planned.thread_breaks[thing.first + 1 : thing.last + 1].any()
        assert 0 <= thing.angle_deg < 180
        assert thing.width_mm >= 0
        assert thing.length_mm > 0
        assert (thing.serves is not None) == (thing.kind in ("underlay", "tie"))
    # Thread that does not break goes on from where the stitch before ended.
    on = ~planned.thread_breaks[1:]
    assert np.allclose(planned.start_mm[1:][on], planned.end_mm[:-1][on], atol=0.3)
    if machine is made.NO_CUTTER:
        assert planned.trims == 0
    assert planned.trims <= sum(t.cut == "yes" for t in planned.travels)
    assert all(-1 <= t.after_stitch < n for t in planned.travels)
    # One block a thread: as many as stretches between halts in which anything is sewn.
    sewn, stretches = False, 0
    for c in design.command.tolist():
        if c in (Command.STITCH, Command.SEQUIN):
            stretches += not sewn
            sewn = True
        elif c in (Command.COLOUR_CHANGE, Command.STOP):
            sewn = False
    assert len(planned.blocks) == stretches


@st.composite
def stitches(draw: st.DrawFn) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Start, end and piece of stitches at odd places, so that no angle sits on a limit."""
    n = draw(st.integers(2, 40))
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    turn = rng.choice([0.0, 90.0, 170.0, 180.0], n) + rng.normal(0, 15, n)
    length = rng.choice([0.5, 2.0, 5.0], n) * rng.uniform(0.8, 1.2, n)
    deg = np.cumsum(turn)
    step = length[:, None] * np.stack([np.cos(np.radians(deg)), np.sin(np.radians(deg))], 1)
    points = np.concatenate([[[0.0, 0.0]], np.cumsum(step, 0)])
    return points[:-1], points[1:], np.cumsum(rng.random(n) < 0.1)


@settings(max_examples=200)
@given(sewn=stitches())
def test_rows_agree_with_the_twin(sewn: tuple[np.ndarray, np.ndarray, np.ndarray]) -> None:
    have = rows.walk(*sewn)
    want = naive.rows_walked(*sewn, rows.CONNECTOR_MM)
    assert have[0].tolist() == want[0].tolist()
    assert have[1].tolist() == want[1].tolist()


@settings(max_examples=100)
@given(sewn=stitches(), seed=st.integers(0, 2**32 - 1))
def test_cover_agrees_with_the_twin(sewn: tuple[np.ndarray, np.ndarray, np.ndarray], seed: int) -> None:
    start, end, _ = sewn
    rng = np.random.default_rng(seed)
    new = rng.random(len(start)) < 0.2
    index = np.cumsum(new) - new[0]
    block = np.cumsum(new & (rng.random(len(start)) < 0.3))
    covering = rng.random(index.max() + 1) < 0.5
    low = np.minimum(start, end).min(0) - 1.0
    start, end = start - low, end - low
    size = (np.maximum(start, end).max(0) / cover.CELL_MM).astype(int) + 2
    assume(size.prod() < 1_000_000)
    last = np.full((size[1], size[0]), -1, np.int32)
    have = cover.covered(start, end, index, block, covering, last)
    want = naive.covered_share(start, end, index, block, covering, (cover.CELL_MM, cover.SAMPLE_MM))
    assert np.allclose(have, want)
