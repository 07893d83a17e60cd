"""Appliqué out of order, and without a stop for the hands."""

from __future__ import annotations

from typing import Any

import numpy as np

from designs.club import GOLD, NAVY, RED, Step
from digitize import applique
from digitize.shapes import circle
from planting.faults import CENTRE, Faults
from planting.scenes import Plant, Scene, column
from render.model import BlockTreatment


def _piece(rng: np.random.Generator) -> tuple[Any, Any, Any]:
    outline = circle(rng.uniform(8, 12), CENTRE)
    return (
        Step("placement", NAVY, applique.placement(outline)),
        Step("tack", RED, applique.tack_down(outline)),
        Step("cover", GOLD, applique.cover(outline)),
    )


def applique_order(rng: np.random.Generator, size: float) -> Scene:
    """The cover before the tack-down, or no cover at all."""
    placement, tack, cover = _piece(rng)
    steps = (
        [placement, "stop", cover, "stop", tack] if rng.random() < 0.5 else [placement, "stop", tack, "stop"]
    )
    if steps[-1] == "stop":
        steps.append(column("after", GOLD, (CENTRE[0] + 22, 0.0), 9.0, 3.0))
    blocks = {0: BlockTreatment("applique", fabric="felt", colour_srgb=(0.2, 0.4, 0.4))}
    along = ("missing-stop", "registration", "gap", "no-underlay", "buried-detail")
    return Scene(steps, Plant("applique-order", ("placement",), None, along), {}, blocks)


def missing_stop(rng: np.random.Generator, size: float) -> Scene:
    """All in order, but the machine of several needles sews on."""
    steps = list(_piece(rng))
    blocks = {0: BlockTreatment("applique", fabric="felt", colour_srgb=(0.2, 0.4, 0.4))}
    along = ("registration", "gap", "buried-detail")
    return Scene(
        steps, Plant("missing-stop", ("placement",), None, along), {"machine": "multi-needle"}, blocks
    )


FAULTS: Faults = {
    "applique-order": (applique_order, None, False),
    "missing-stop": (missing_stop, None, False),
}
