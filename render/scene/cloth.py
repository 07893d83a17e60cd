"""What each part of a setting would show if it lay flat under the light: cloth at true scale, or plain."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from render.colour import to_linear
from render.draw.cloth.scattered import planes_at
from render.draw.cloth.undyed import DEGREE, MIXED, PLAIN, dye_weights, undyed_cloths
from render.draw.grain import hash_unit
from render.materials.fabrics import load_fabric

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from render.draw.cloth.undyed import UndyedCloth
    from render.model import Colour, Job
    from render.scene.gather import Looks
    from render.scene.light import Lamps
    from render.scene.mesh import Material
    from render.scene.picture import Colouring
    from render.scene.view import Stage


CRISP = 0.78  # of the picture's pixels a mm that cloth is sized for


@dataclass(frozen=True, slots=True, eq=False)
class Cloths:
    """Every part's lit cloth at falling sizes, each half the one before, empty for plain parts.

    `material (P, 3)`: gloss, fuzz, whether the design is on it; `grain (P,)` of plain parts; `card (3,)`
    what a white card shows; `per_mm` the pixels a mm of the largest size.
    """

    lit: tuple[tuple[UndyedCloth, ...], ...]
    material: NDArray[np.float64]
    grain: NDArray[np.float64]
    card: NDArray[np.float64]
    per_mm: float
    seed: int

    def planes(self, looks: Looks, px_per_mm: NDArray[np.float32]) -> NDArray[np.float32]:
        """Planes (G, C) of flat cloth at the looks' places, of which the picture shows so many pixels a mm:
        where these are few, cloth is averaged over more of it, or it would shimmer."""
        count = max([len(sizes[0].mean) for sizes in self.lit if sizes], default=PLAIN)
        out = np.zeros((len(looks.part), max(count, PLAIN)), np.float32)
        for part, sizes in enumerate(self.lit):
            here = np.flatnonzero(looks.part == part)
            if not len(here):
                continue
            if not sizes:
                tone = 1.0 + self.grain[part] * (hash_unit(looks.pixel[here], self.seed + part) - 0.5)
                out[here, :3] = self.card * tone[:, None]
                continue
            kinds = sizes[0].piece.texels.shape[2]
            level = np.clip(np.log2(self.per_mm / px_per_mm[here]), 0.0, len(sizes) - 1.0)
            for size, cloth in enumerate(sizes):
                weight = np.maximum(1.0 - np.abs(level - size), 0.0).astype(np.float32)
                some = np.flatnonzero(weight > 0.02)
                if len(some):
                    flat = planes_at(cloth.piece, cloth.axes, looks.values[here[some], :2])
                    out[here[some], :kinds] += weight[some, None] * flat
        return out


def cloths_for(here: Stage, job: Job, lamps: Lamps) -> Cloths:
    """Light the cloths of a setting. Parts of one cloth share it."""
    made: dict[tuple[str, float], tuple[UndyedCloth, ...]] = {}
    # As it is seen where the design is; what lies farther off or leans away more is shown smaller.
    per_mm = round(CRISP * here.leaning * float(here.seen.px / here.seen.focus_mm), 2)
    lit: list[tuple[UndyedCloth, ...]] = []
    for part in here.setting.parts:
        material = part.material
        key = (material.fabric, material.turn_deg)
        if material.fabric and key not in made:
            fabric = job.fabric if material.fabric == "job" else load_fabric(material.fabric)
            made[key] = undyed_cloths(
                fabric, job.light, turn_deg=material.turn_deg, px_per_mm=per_mm, seed=job.seed
            )
        lit.append(made[key] if material.fabric else ())
    materials = [part.material for part in here.setting.parts]
    return Cloths(
        tuple(lit),
        np.array([[one.material.gloss, one.material.fuzz, float(one.sewn)] for one in here.setting.parts]),
        np.array([one.grain for one in materials]),
        lamps.card,
        per_mm,
        job.seed,
    )


def dyes_for(here: Stage, cloths: Cloths, colourings: Sequence[Colouring]) -> NDArray[np.float32]:
    """Colour of every part and weights of its planes in each set of colours, (K, P, 3, 1 + W)."""
    out = np.zeros((len(colourings), len(cloths.lit), 3, MIXED - PLAIN + 1 + DEGREE), np.float32)
    for which, colouring in enumerate(colourings):
        known: dict[tuple[int, Colour], NDArray[np.float64]] = {}
        for index, (part, sizes) in enumerate(zip(here.setting.parts, cloths.lit, strict=True)):
            colour = _colour_of(part.material, colouring)
            out[which, index, :, 0] = to_linear(np.array(colour))
            if not sizes:
                out[which, index, :, 1] = out[which, index, :, 0]
                continue
            key = (id(sizes), colour)
            if key not in known:
                known[key] = dye_weights(sizes[0], colour)
            out[which, index, :, 1:] = known[key]
    return out


def _colour_of(material: Material, colouring: Colouring) -> Colour:
    base = {
        "garment": colouring.garment_srgb,
        "trim": colouring.trim_srgb,
        "own": material.colour_srgb,
    }[material.role]
    return base[0] * material.shade, base[1] * material.shade, base[2] * material.shade
