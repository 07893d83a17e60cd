"""What each part of a setting would show if it lay flat under the light: cloth at true scale, or plain."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from render.colour import to_linear
from render.draw.cloth import cloth_at, light_cloth
from render.draw.grain import hash_unit
from render.materials.fabrics import load_fabric

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.draw.cloth import LitCloth
    from render.model import Colour, Job
    from render.scene.gather import Looks
    from render.scene.light import Lamps
    from render.scene.mesh import Material
    from render.scene.picture import Colouring
    from render.scene.view import Stage


CRISP = 0.78  # of the picture's pixels a mm that cloth is sized for


@dataclass(frozen=True, slots=True, eq=False)
class Cloths:
    """Every part's lit cloth, None for plain ones; `colour_linear (P, 3)`; `material (P, 4)` and
    `grain (P,)`; `card (3,)` what a white card shows."""

    lit: tuple[LitCloth | None, ...]
    colour_linear: NDArray[np.float64]
    material: NDArray[np.float64]
    grain: NDArray[np.float64]
    card: NDArray[np.float64]
    seed: int

    def flat_light(self, looks: Looks) -> NDArray[np.float32]:
        """Linear light (G, 3) of flat cloth at the looks' places."""
        out = np.zeros((len(looks.part), 3), np.float32)
        for part, lit in enumerate(self.lit):
            here = np.flatnonzero(looks.part == part)
            if not len(here):
                continue
            if lit is not None:
                uv = looks.values[here, :2].astype(np.float64)
                out[here] = cloth_at(lit, uv[:, 0], uv[:, 1])
            else:
                tone = 1.0 + self.grain[part] * (hash_unit(looks.pixel[here], self.seed + part) - 0.5)
                out[here] = self.colour_linear[part] * self.card * tone[:, None]
        return out


def cloths_for(here: Stage, job: Job, colouring: Colouring, lamps: Lamps) -> Cloths:
    """Light the cloths of a setting in one set of colours. Parts of one cloth and colour share it."""
    made: dict[tuple[str, Colour, float], LitCloth] = {}
    # Cloth that leans away is seen denser one way: filtered for that, or it would shimmer.
    per_mm = CRISP * here.leaning * float(here.seen.px / here.seen.focus_mm)
    lit: list[LitCloth | None] = []
    colours, materials = [], []
    for part in here.setting.parts:
        material = part.material
        colour = _colour_of(material, colouring)
        colours.append(to_linear(np.array(colour)))
        materials.append([material.gloss, material.fuzz, 1.0 if part.sewn else 0.0, 0.0])
        if not material.fabric:
            lit.append(None)
            continue
        key = (material.fabric, colour, material.turn_deg)
        if key not in made:
            fabric = job.fabric if material.fabric == "job" else load_fabric(material.fabric)
            made[key] = light_cloth(
                fabric,
                job.light,
                colour_srgb=colour,
                turn_deg=material.turn_deg,
                mirrored=False,
                px_per_mm=round(per_mm, 2),
                seed=job.seed,
            )
        lit.append(made[key])
    return Cloths(
        tuple(lit),
        np.array(colours),
        np.array(materials),
        np.array([part.material.grain for part in here.setting.parts]),
        lamps.card,
        job.seed,
    )


def _colour_of(material: Material, colouring: Colouring) -> Colour:
    base = {
        "garment": colouring.garment_srgb,
        "trim": colouring.trim_srgb,
        "own": material.colour_srgb,
    }[material.role]
    return base[0] * material.shade, base[1] * material.shade, base[2] * material.shade
