"""Appliqué: order and stops, with the placement line named by the job."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from inspect_pieces import CHANGE, STOP, inspected, moved
from plan_pieces import Piece as Sewing
from plan_pieces import box_fill, column, e_stitch, path_running

from render.inspect.applique import applique_order, missing_stops
from render.inspect.buried import buried_details
from render.inspect.columns import missing_underlay
from render.materials.job import make_job
from render.materials.machines import load_machine
from render.model import BlockTreatment, Job

_A = np.linspace(0, 2 * np.pi, 600)
OUTLINE = 15.0 * np.stack([np.cos(_A), np.sin(_A)], 1)
PLACE = path_running(OUTLINE, 2.5)
TACK = path_running(OUTLINE * 0.97, 2.0)
COVER = column(OUTLINE, 3.2, 0.4)
ELSEWHERE = moved(box_fill(7.0, 7.0, 0.4, 3.0), 40.0, 0.0)


def job(block: int = 0, *, pre_cut: bool = False, machine: str = "multi-needle") -> Job:
    treatment = BlockTreatment("applique", fabric="felt", pre_cut=pre_cut)
    return replace(make_job(), machine=load_machine(machine), blocks={block: treatment})


@pytest.mark.parametrize(
    ("steps", "block", "words"),
    [
        ((PLACE, STOP, TACK, STOP, COVER), 0, None),
        ((ELSEWHERE, CHANGE, PLACE, STOP, TACK, STOP, COVER), 1, None),
        ((PLACE, STOP, TACK, STOP, ELSEWHERE, CHANGE, COVER), 0, None),
        ((PLACE, STOP, COVER), 0, "without being tacked"),
        ((PLACE, STOP, COVER, STOP, TACK), 0, "without being tacked"),
        ((COVER, STOP, PLACE, STOP, TACK), 1, "before the placement"),
        ((PLACE, STOP, TACK, STOP, ELSEWHERE), 0, "no cover"),
    ],
)
def test_the_order_is_placement_tack_down_cover(
    steps: tuple[Any, ...], block: int, words: str | None
) -> None:
    found = list(applique_order(inspected(*steps, job=job(block))))
    assert len(found) == (0 if words is None else 1)
    for one in found:
        assert (one.kind, one.colour_block, one.size_mm) == ("applique-order", block, None)
        assert words in one.cause
        assert one.severity == ("check" if "no cover" in one.cause else "fix")


def test_a_zigzag_tacks_down_too() -> None:
    zigzag = column(OUTLINE, 2.2, 2.4)
    assert not list(applique_order(inspected(PLACE, STOP, zigzag, STOP, COVER, job=job())))


def test_an_open_edge_stitch_covers() -> None:
    edge = e_stitch(OUTLINE, 2.5, 2.5)
    assert not list(applique_order(inspected(PLACE, STOP, TACK, STOP, edge, job=job())))


@pytest.mark.parametrize(
    ("after_place", "after_tack", "pre_cut", "missing"),
    [
        (STOP, STOP, False, []),
        (CHANGE, STOP, False, ["lay"]),
        (STOP, CHANGE, False, ["trim"]),
        (CHANGE, CHANGE, False, ["lay", "trim"]),
        (STOP, CHANGE, True, []),
        (CHANGE, CHANGE, True, ["lay"]),
    ],
)
def test_hands_need_a_stop_to_lay_and_one_to_trim(
    after_place: tuple[Any, ...], after_tack: tuple[Any, ...], pre_cut: bool, missing: list[str]
) -> None:
    piece = inspected(PLACE, after_place, TACK, after_tack, COVER, job=job(pre_cut=pre_cut))
    found = list(missing_stops(piece))
    assert len(found) == bool(missing)
    for one in found:
        assert (one.kind, one.severity) == ("missing-stop", "fix")
        assert [what for what in ("lay", "trim") if f"to {what}" in one.cause] == missing
        assert "stop the machine before hands or scissors go near the needle" in one.remedy


def test_where_the_machine_is_not_known_it_is_only_to_be_looked_at() -> None:
    piece = inspected(PLACE, CHANGE, TACK, CHANGE, COVER, job=job(machine="unknown"))
    assert [one.severity for one in missing_stops(piece)] == ["check"]


def test_a_machine_of_one_needle_stops_for_every_colour() -> None:
    one_needle = replace(job(), machine=replace(load_machine("multi-needle"), needles=1))
    assert not list(missing_stops(inspected(PLACE, CHANGE, TACK, CHANGE, COVER, job=one_needle)))


def test_a_piece_cut_to_shape_may_be_tacked_down_and_covered_in_one_go() -> None:
    assert not list(applique_order(inspected(PLACE, STOP, TACK, COVER, job=job(pre_cut=True))))
    assert list(applique_order(inspected(PLACE, STOP, TACK, COVER, job=job())))
    assert list(applique_order(inspected(PLACE, STOP, COVER, job=job(pre_cut=True))))


def test_without_an_applique_in_the_job_nothing_is_asked_for() -> None:
    piece = inspected(COVER, CHANGE, PLACE, CHANGE, TACK)
    assert not [*applique_order(piece), *missing_stops(piece)]


def test_a_placement_of_a_single_needle_point_is_none() -> None:
    dot = Sewing(np.array([[20.0, 20.0]]), ("running",))
    piece = inspected(PLACE, CHANGE, dot, CHANGE, COVER, job=job(1))
    assert piece.plan.blocks[1].last < piece.plan.blocks[1].first
    assert not [*applique_order(piece), *missing_stops(piece)]


def test_lines_under_the_cover_are_not_buried_and_the_cover_needs_no_underlay() -> None:
    small = [Sewing(piece.points_mm * 0.35, piece.kinds) for piece in (PLACE, TACK)]
    cover = column(OUTLINE * 0.35, 3.2, 0.4)
    piece = inspected(small[0], STOP, small[1], STOP, cover, job=job())
    assert not list(buried_details(piece))
    assert not list(missing_underlay(piece))
    assert list(missing_underlay(inspected(small[0], STOP, small[1], STOP, cover)))
