"""Sew: where the stitches end up on the cloth."""

from __future__ import annotations

from typing import TYPE_CHECKING

from render.model import Sewn

if TYPE_CHECKING:
    from render.model import SewPlan


def sew(plan: SewPlan) -> Sewn:
    """Sew the plan on cloth that lies still: every stitch stays where it was programmed."""
    return Sewn(plan, plan.start_mm, plan.end_mm)
