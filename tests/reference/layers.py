"""What thread of several thicknesses shows of what it lies on: `python -m tests.reference.layers`.

Patches of satin lines, nearer and nearer together, are path-traced under an even dome on black and on pale
ground, and Kubelka and Munk's S is found that fits them all. Takes some minutes.
"""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
from scipy.optimize import least_squares

sys.path.insert(0, str(Path(__file__).parents[1]))
from reference.patches import TRUE, TRUE_TWIST, patch
from reference.trace import FIBRES, Camera, Floats, trace

from render.draw.thickness import PER_MM, shown_shares

SPACINGS_MM, GROUNDS = (0.3, 0.2, 0.1, 0.05), (0.0, 0.9)
PILE_MM, RISE_MM = 0.3, 0.07  # lines within so far of each other lie on each other, each so much higher


def patches_of(kind: str) -> Floats:
    """Rows of thickness in mm, ground, and RGB of the patch's middle."""
    rows = []
    section_mm2 = np.pi * TRUE["half_width_mm"] * TRUE["half_height_mm"]
    for spacing in SPACINGS_MM:
        lines = patch(
            **{**TRUE, "lines": round(4.2 / spacing), "spacing_mm": spacing}, turns_per_mm=TRUE_TWIST
        )
        deep = max(1, round(PILE_MM / spacing))
        cords = [
            replace(cord, middle_mm=cord.middle_mm + [0.0, 0.0, RISE_MM * (i % deep)])
            for i, cord in enumerate(lines)
        ]
        for ground in GROUNDS:
            seen = trace(
                cords,
                fibre=FIBRES[kind],
                lamps=[],
                dome=1.0,
                camera=Camera((0.0, 0.0), 1.8, 48, 48),
                samples=48,
                seed=3,
                ground=(ground,) * 3,
            )
            rows.append([section_mm2 / spacing, ground, *seen.mean((0, 1))])
    return np.array(rows)


def fitted(rows: Floats) -> tuple[float, Floats]:
    """Kubelka and Munk's S a mm, and the colour (3,) of thread that lies deep."""

    def off(guess: Floats) -> Floats:
        out = []
        for thickness, ground, *seen in rows:
            shown = shown_shares(guess[None, 1:], np.full(3, ground), guess[:1])[0]
            share = [np.interp(thickness * PER_MM, np.arange(len(shown)), shown[:, c]) for c in range(3)]
            out.append((share * guess[1:] - seen) / guess[1:])
        return np.concatenate(out)

    found = least_squares(off, [10.0, *rows[-1, 2:]], diff_step=1e-3).x
    return float(found[0]), found[1:]


if __name__ == "__main__":
    for kind in FIBRES:
        print(kind, *fitted(patches_of(kind)), flush=True)
