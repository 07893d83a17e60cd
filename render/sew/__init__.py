"""Sew: where the stitches end up on the cloth."""

from __future__ import annotations

from typing import TYPE_CHECKING

from render.errors import InputError
from render.model import ClothRest, Sewn

if TYPE_CHECKING:
    from render.model import Holding, SewPlan

FURTHEST_STRAIN = 0.15  # beyond this the law of small strains is a rough guide
NO_STRAIN_AT_ALL = 0.7  # and beyond this it says nothing: the cloth would gather into a knot (estimate)
SOFT_N_PER_M = 2000.0  # estimate: cloth softer than this needs a stabiliser


def sew(
    plan: SewPlan, holding: Holding | None = None, *, cell_mm: float | None = None, keep_rests: bool = False
) -> Sewn:
    """Sew the plan on cloth that is held so, and see where every stitch ends up.

    Without `holding` the cloth lies still and every stitch stays where it was programmed.
    `cell_mm` is the grid's, without a word by the size of the design; `keep_rests` also tells how the
    cloth lay on the way.
    Raises InputError for a fabric whose stiffnesses no material can have, and where the cloth would
    be drawn together so far that nothing can be predicted.
    """
    if holding is None or not len(plan.start_mm):
        return Sewn(plan, plan.start_mm, plan.end_mm)
    from render.sew.hoop import cloth_in_hoop, contact, take_out
    from render.sew.measure import cloth_move, measure_object, sewn_ends, strain_under_thread
    from render.sew.sequence import sew_stitches, sew_with_rests
    from render.sew.settle import Pull, Sewing, holes_of

    cloth = cloth_in_hoop(plan.box_mm, holding, cell_mm)
    pull = Pull(holding.tension_n, holding.fabric.hole_give_mm, holding.pin_n_per_mm, holding.push_share)

    def ready_to_sew() -> Sewing:
        sewing = Sewing(cloth, pull, plan.start_mm, plan.end_mm, holes_of(plan.thread_breaks))
        if holding.stabiliser is not None:
            sewing.bond = contact(cloth.grid, holding)
        return sewing

    sewing = ready_to_sew()
    if keep_rests:
        resting = sew_with_rests(sewing, ready_to_sew())
    else:
        sew_stitches(sewing)
        resting = []
    strain = strain_under_thread(sewing)
    _check_strain(strain, holding)
    bending_n_mm = holding.fabric.bending_n_mm
    rests = tuple(ClothRest(count, cloth_move(cloth.grid, u_mm, bending_n_mm)) for count, u_mm in resting)
    if holding.taken_out:
        take_out(sewing, holding)
    ends, shift = sewn_ends(sewing)
    start, end = ends[0::2].copy(), ends[1::2].copy()
    return Sewn(
        plan=plan,
        start_mm=start,
        end_mm=end,
        notes=_notes(plan, holding, strain),
        cloth=cloth_move(cloth.grid, sewing.u_mm[0], bending_n_mm),
        objects=tuple(measure_object(part, plan, start, end) for part in plan.objects),
        give_mm=shift.reshape(-1, 2, 2),
        rests=rests,
    )


def _check_strain(strain: float, holding: Holding) -> None:
    if strain > NO_STRAIN_AT_ALL:
        under = "" if holding.stabiliser is not None else " put a stabiliser under it,"
        raise InputError(
            f"{holding.fabric.title} held like this would be drawn together by {100 * strain:.0f} %: nothing "
            f"can be predicted of that;{under} hold it firmly all round, or ask for --as-programmed"
        )


def _notes(plan: SewPlan, holding: Holding, strain: float) -> tuple[str, ...]:
    notes = []
    left, top, right, bottom = plan.box_mm
    if right - left > holding.hoop.width_mm or bottom - top > holding.hoop.height_mm:
        notes.append(
            f"The design of {right - left:.0f} x {bottom - top:.0f} mm is larger than the hoop, "
            f"{holding.hoop.title}: it was reckoned in one that just holds it."
        )
    softest = min(holding.fabric.e_warp_n_per_m, holding.fabric.e_weft_n_per_m)
    if holding.stabiliser is None and softest < SOFT_N_PER_M:
        notes.append(
            f"{holding.fabric.title} is sewn without stabiliser: so soft a cloth gathers more than "
            "can be predicted; put cut-away under it."
        )
    if strain > FURTHEST_STRAIN:
        notes.append(
            f"The cloth strains by {100 * strain:.0f} % in places: beyond {100 * FURTHEST_STRAIN:.0f} % "
            "the predicted places are a rough guide."
        )
    return tuple(notes)
