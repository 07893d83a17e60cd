"""A drawing that grows stitch by stitch: the same as one drawn at once, and no more work than needed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import samples
from growing_pieces import JOB, piece, pulled_in
from numpy.typing import NDArray

from render.compose import compose, paint
from render.compose.fading import paint_finely, show_between
from render.draw.between import Between
from render.draw.carried import (
    MOST_PX,
    SMALL_TILE_PX,
    edge_px,
)
from render.draw.cloth.lattice import STEP_MM
from render.draw.fuzz import HAIR, with_fuzz
from render.draw.ground import ground_for, raised_base
from render.draw.growing import Growing
from render.draw.layers import Drawing, prepare
from render.draw.profile import HOLE
from render.draw.pucker import pucker_of
from render.draw.stack import stack_strands
from render.draw.strands import Strands, strands_of, unmoved
from render.draw.tiles import draw_layers
from render.draw.unmoved import moved_mm
from render.draw.way import Way
from render.materials.fabrics import load_fabric
from render.materials.fibres import load_fibres
from render.model import Job, Layers, Sewn, Window

THREADS = (samples.RED, samples.CREAM)


def prepared(sewn: Sewn, window: Window, job: Job = JOB) -> tuple[Strands, Drawing]:
    ground = ground_for(sewn, job, window.px_per_mm, load_fabric)
    strands = strands_of(sewn, THREADS, job, ground.hidden)
    stacked = stack_strands(strands, raised_base(ground, strands), bedding=ground.bedding)
    light = {"threads": THREADS, "lobes": load_fibres(), "light": job.light, "window": window}
    return strands, prepare(strands, stacked, ground, **light)  # type: ignore[arg-type]


def drawn_at_once(drawing: Drawing, job: Job = JOB) -> NDArray[np.uint8]:
    layers = draw_layers(
        drawing.strands,
        drawing.stacked,
        drawing.ground,
        threads=THREADS,
        lobes=load_fibres(),
        light=job.light,
        window=drawing.window,
    )
    return compose(layers, drawing.window, transparent=False).pixels


def unseen(part: tuple[int, int, int, int], layers: Layers) -> None:
    """Who looks at no picture."""


class Picture:
    """What has been drawn so far."""

    def __init__(self, growing: Growing | Between) -> None:
        self.drawing = growing.drawing if isinstance(growing, Growing) else growing.two[0].drawing
        shape = (self.drawing.window.rows, self.drawing.window.cols, 3)
        self.growing, self.pixels = growing, np.zeros(shape, np.uint8)
        self.fine = [np.zeros(shape, np.uint16) for _ in range(2)]

    def grow(self, stitches: int, **options: float) -> int:
        """Draw on; gives how many pixels were lit."""
        lit: list[int] = []

        def take(part: tuple[int, int, int, int], layers: Layers) -> None:
            paint(self.pixels, part, layers)
            lit.append(part[2] * part[3])

        def take_of(which: int, part: tuple[int, int, int, int], layers: Layers) -> None:
            paint_finely(self.fine[which], part, layers)

        if isinstance(self.growing, Growing):
            self.growing.grow(stitches, take, **options)  # type: ignore[arg-type]
        else:
            shares = self.growing.grow(stitches, take_of, **options)
            self.growing.note_apart(
                show_between(*self.fine, shares, SMALL_TILE_PX, edge_px(self.drawing.halo_px), self.pixels)
            )
        return sum(lit)


@pytest.mark.parametrize("cut", ["no", "yes"])
def test_stitch_by_stitch_is_the_picture_drawn_at_once_to_the_byte(cut: str) -> None:
    sewn = piece(cut)
    _, drawing = prepared(sewn, Window((1.0, 0.5), 11.0, 150, 240))
    picture = Picture(Growing(drawing, None))
    total = len(sewn.start_mm)
    for stitches in [0, 1, 2, 40, 41, *range(60, total, 37), total]:
        picture.grow(stitches, slack=0.0)
    assert np.array_equal(picture.pixels, drawn_at_once(drawing))


def test_a_few_stitches_light_a_few_pixels_and_none_lights_none() -> None:
    sewn = piece()
    _, drawing = prepared(sewn, Window((1.0, 0.5), 11.0, 300, 500))
    picture = Picture(Growing(drawing, None))
    assert picture.grow(0) == 300 * 500
    picture.grow(80)
    # A stitch of 4 mm with room for its shadow and for the cloth that it presses down, in tiles.
    assert 0 < picture.grow(81) <= (4 + 9) * 9 * 11.0**2
    assert picture.grow(81) == 0


def test_light_waits_where_the_picture_is_not_seen() -> None:
    sewn = piece()
    _, drawing = prepared(sewn, Window((1.0, 0.5), 11.0, 150, 240))
    seen, hidden = (Picture(Growing(drawing, None)) for _ in range(2))
    for picture in (seen, hidden):
        picture.grow(60)
    everywhere = np.ones(hidden.growing.parts.tiles, bool)  # type: ignore[union-attr]
    assert hidden.grow(80, hidden=everywhere) == 0  # type: ignore[arg-type]
    assert hidden.growing.waits().any()  # type: ignore[union-attr]
    assert hidden.grow(90) >= seen.grow(90) > 0
    assert not hidden.growing.waits().any()  # type: ignore[union-attr]
    assert np.array_equal(hidden.pixels, seen.pixels)
    for picture in (seen, hidden):
        picture.grow(90, slack=0.0)
    assert np.array_equal(hidden.pixels, seen.pixels)


def test_yarns_of_a_part_lie_as_they_do_on_the_whole() -> None:
    sewn = pulled_in(piece(), 0.5)
    way = Way(sewn, JOB.seed)
    left, top, right, bottom = sewn.plan.box_mm
    (whole,), (part,) = (
        way.aside(70.5, np.array(box))
        for box in ((left, top, right, bottom), (left + 2.0, top + 1.0, left + 4.0, top + 3.0))
    )
    assert part.way_mm.shape != whole.way_mm.shape
    of_whole, of_part = (np.zeros((8, 8, 2)) for _ in range(2))
    first = int((left + 2.0) / STEP_MM) + 1, int((top + 1.0) / STEP_MM) + 1
    for one, back in (whole, of_whole), (part, of_part):
        one.add_to(back, first)
    assert np.abs(of_whole).max() > 0.01
    assert np.allclose(of_part, of_whole, rtol=0.0, atol=1e-6)


def test_ridges_are_those_of_each_state_of_rest() -> None:
    sewn = pulled_in(piece(), 0.5)
    way = Way(sewn, JOB.seed)
    box = sewn.plan.box_mm
    everywhere = np.array([-1e3, -1e3, 1e3, 1e3])
    for rest in range(1, len(way.at) - 1):
        ridges, alone = way.ridges(way.at[rest], everywhere), pucker_of(way.moves[rest], box, JOB.seed)
        assert ridges is not None
        assert alone is not None
        assert np.allclose(ridges.height_mm, alone.height_mm, rtol=0.0, atol=1e-6)


def test_what_has_landed_is_a_picture_of_the_first_stitches() -> None:
    sewn, count = piece(), 60
    strands, drawing = prepared(sewn, Window((1.0, 0.5), 11.0, 150, 240))
    picture = Picture(Growing(drawing, None))
    picture.grow(count, slack=0.0)
    first = np.flatnonzero((strands.stitch >= 0) & (strands.stitch < count))
    kept = {
        name: getattr(strands, name)[first]
        for name in Strands.__dataclass_fields__
        if name != "anchor_mm" and getattr(strands, name) is not None
    }
    alone = replace(strands, **kept)
    stacked = stack_strands(alone)
    part = prepare(
        alone,
        stacked,
        drawing.ground,
        threads=THREADS,
        lobes=load_fibres(),
        light=JOB.light,
        window=drawing.window,
    )
    # Threads do not give way yet to neighbours that come later, so not to the byte.
    off = np.abs(picture.pixels.astype(int) - drawn_at_once(part)).max(2)
    assert np.mean(off) < 2.0


def test_on_moving_cloth_the_end_is_the_still_to_the_byte() -> None:
    sewn = pulled_in(piece(), 0.5)
    _, drawing = prepared(sewn, Window((1.0, 0.5), 11.0, 150, 240))
    picture = Picture(Between(drawing, Way(sewn, JOB.seed)))
    total = len(sewn.start_mm)
    for stitches in range(0, total, 9):
        picture.grow(stitches)
    picture.grow(total, slack=0.0)
    assert np.array_equal(picture.pixels, drawn_at_once(drawing))


def test_what_is_seen_lies_between_two_drawings_that_are_near() -> None:
    """Each tile was drawn once as it lay and once as it will lie, half a pixel apart or so at most."""
    sewn = pulled_in(piece(), 0.5)
    _, drawing = prepared(sewn, Window((1.0, 0.5), 11.0, 150, 240))
    way = Way(sewn, JOB.seed)
    growing = Between(drawing, way)
    carried = growing.carried
    carried.harsh[:] = 8.0  # levels a pixel, as the crest's thread is
    redrawn, furthest, between, off = [], 0.0, [], 0.0
    for stitches in range(0, len(sewn.start_mm), 2):
        before = carried.drawn_at.copy()
        told = growing.grow(stitches, lambda which, part, layers: None) / 256.0
        shares = carried.come(stitches)
        assert np.abs(told - shares).max() < 0.1
        assert (np.sign(told - 0.5) * np.sign(shares - 0.5) >= 0.0)[np.abs(shares - 0.5) > 0.01].all()
        redrawn.append((before != carried.drawn_at).any(0).mean())
        two = np.isfinite(carried.drawn_at).all(0)
        apart = np.hypot(*np.moveaxis(carried.drawn_px[0][two] - carried.drawn_px[1][two], -1, 0)).max(-1)
        furthest = max(furthest, apart.max(initial=0.0))
        low, high = carried.drawn_at.min(0)[two], carried.drawn_at.max(0)[two]
        between.append(
            ((low <= stitches) & (stitches <= high + 1e-9) | (apart < 1e-6)).mean() if two.any() else 1.0
        )
        places = moved_mm(way.move(stitches), carried.places_mm).reshape(2 * len(shares) + 1, -1, 2)
        now = 11.0 * places[:-1:2, :-1:2]  # the corner of each tile
        first, second = np.where(two[..., None], carried.drawn_px[:, :, :, 0], 0.0)
        shown = first + (second - first) * shares[..., None]
        off = max(off, float(np.hypot(*np.moveaxis(now - shown, -1, 0))[two].max(initial=0.0)))
    assert 0.3 * MOST_PX < furthest <= 2.0 * MOST_PX
    assert np.mean(between) > 0.98
    assert off < 0.02
    assert 0.0 < np.mean(redrawn[1:]) < 0.7


def test_light_knows_how_threads_run_and_are_pressed_where_they_have_been_carried() -> None:
    sewn = pulled_in(piece(), 0.5)
    strands, drawing = prepared(sewn, Window((1.0, 0.5), 11.0, 150, 240))
    way = Way(sewn, JOB.seed)
    growing = Growing(drawing, way)
    growing.grow(60, unseen, slack=0.0)
    now, count = growing.placed.now, growing.count
    move, laid = way.move(60.0), unmoved(sewn)[0]
    lie = [places + moved_mm(move, places) for places in (laid.start_mm, laid.end_mm)]
    then = strands_of(replace(sewn, start_mm=lie[0], end_mm=lie[1], cloth=move), THREADS, JOB)
    stacked = stack_strands(then)
    assert np.array_equal(stacked.height_mm, drawing.stacked.height_mm)
    light = {"threads": THREADS, "lobes": load_fibres(), "light": JOB.light, "window": drawing.window}
    there = prepare(then, stacked, drawing.ground, **light)  # type: ignore[arg-type]
    assert (strands.stitch[:count] >= 0).all()
    for name in ("start_px", "end_px"):
        assert np.array_equal(
            getattr(now.pixel_strands, name)[:count], getattr(there.pixel_strands, name)[:count]
        )
    assert now.pixel_strands.run[:count] == pytest.approx(there.pixel_strands.run[:count], abs=1e-6)
    assert now.shading.numbers[:count] == pytest.approx(there.shading.numbers[:count], rel=1e-5, abs=1e-5)
    assert np.abs(now.shading.wholes[:count] - there.shading.wholes[:count]).max() <= 1
    # Those to come press them as yet where they will lie in the end.
    own = now.pixel_strands.first[count - 20]
    rows = np.s_[:own, : HOLE + 1]
    assert now.pixel_strands.profile[rows] == pytest.approx(there.pixel_strands.profile[rows], abs=1e-4)
    assert np.abs(there.shading.numbers[:count] - drawing.shading.numbers[:count]).max() > 0.01


def test_hairs_land_with_their_thread() -> None:
    sewn = piece()
    bare = strands_of(sewn, THREADS, JOB)
    growing = Growing(prepared(sewn, Window((1.0, 0.5), 11.0, 60, 60))[1], None)
    strands = with_fuzz(bare, [1.0, 0.5], JOB.seed)
    hairy = Growing(replace(growing.drawing, strands=strands, stacked=stack_strands(strands)), None)
    assert (strands.stitch == HAIR).sum() > 500
    for stitches in (0, 1, 2, 57, hairy.total):
        landed = strands.stitch[: hairy._landed(stitches)]
        assert landed[landed != HAIR].tolist() == bare.stitch[: growing._landed(stitches)].tolist()
        # Hairs come after their thread and go with it: the next strand, if any, is not one of them.
        assert strands.stitch[hairy._landed(stitches) : hairy._landed(stitches) + 1].tolist() != [HAIR]


def test_stitches_do_not_come_out_again() -> None:
    _, drawing = prepared(piece(), Window((1.0, 0.5), 11.0, 60, 60))
    growing = Growing(drawing, None)
    growing.grow(10, unseen)
    with pytest.raises(ValueError, match="fewer"):
        growing.grow(9, unseen)


def test_number_of_workers_changes_nothing() -> None:
    sewn = pulled_in(piece(), 0.5)
    _, drawing = prepared(sewn, Window((1.0, 0.5), 11.0, 150, 240))
    one, many = (Picture(Between(drawing, Way(sewn, JOB.seed), workers=n)) for n in (1, 5))
    for stitches in (0, 50, 120):
        one.grow(stitches)
        many.grow(stitches)
    assert np.array_equal(one.pixels, many.pixels)
