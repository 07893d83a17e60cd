"""What each part of a setting would show if it lay flat under the light: cloth at true scale, or plain."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from render.colour import to_linear
from render.compiled import njit
from render.draw.cloth.scattered import add_planes
from render.draw.cloth.undyed import dye_weights, undyed_cloth
from render.draw.grain import hash_unit
from render.materials.fabrics import load_fabric

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from render.draw.cloth.laying import Piece
    from render.draw.cloth.undyed import UndyedCloth
    from render.model import Colour, Job
    from render.scene.drawn_in import DrawnIn
    from render.scene.gather import Looks
    from render.scene.light import Lamps
    from render.scene.mesh import Material
    from render.scene.sets import Colouring
    from render.scene.view import Stage

    Undyed = dict[tuple[str, float], UndyedCloth]

CRISP = 0.78  # of the picture's pixels a mm that cloth is sized for
SEWN = 2  # of a part's material: whether the design is on it
LEAST_WEIGHT = 0.02  # of a size of cloth: what has less is not looked up


@dataclass(frozen=True, slots=True, eq=False)
class DyedCloth:
    """A lit cloth in K colours, at falling sizes, each half the one before.

    The planes of its `sizes` are its light (3 K); or, where there are fewer of them, what `mix (C, 3 K)`
    makes its light from. `axes` turns design to cloth.
    """

    sizes: tuple[Piece, ...]
    axes: NDArray[np.float64]
    mix: NDArray[np.float32] | None


@dataclass(frozen=True, slots=True, eq=False)
class Cloths:
    """What every part is made of, in K sets of colours.

    `dyed (P,)`, None for plain parts; `colour (K, P, 3)` linear; `material (P, 3)`: gloss, fuzz, whether the
    design is on it; `grain (P,)` of plain parts; `card (3,)` what a white card shows; `per_mm` the pixels a
    mm of the largest size; `drawn` how the stitching has drawn together what it is on, None where that lies
    still.
    """

    dyed: tuple[DyedCloth | None, ...]
    colour: NDArray[np.float32]
    material: NDArray[np.float64]
    grain: NDArray[np.float64]
    card: NDArray[np.float64]
    per_mm: float
    seed: int
    drawn: DrawnIn | None = None

    def light(self, looks: Looks, camera: NDArray[np.float64], cols: int) -> NDArray[np.float32]:
        """Light (G, 3 K) of flat cloth at the looks' places, for the `camera` of `light_looks`. Where the
        picture shows a mm on few pixels, cloth is averaged over more of it, or it would shimmer."""
        out = np.zeros((len(looks.part), 3 * len(self.colour)), np.float32)
        finer = sizes_finer(looks.pixel, looks.values, looks.nearness, camera, cols, CRISP / self.per_mm)
        for part, dyed in enumerate(self.dyed):
            here = np.flatnonzero(looks.part == part)
            if not len(here):
                continue
            if dyed is None:
                tone = 1.0 + self.grain[part] * (hash_unit(looks.pixel[here], self.seed + part) - 0.5)
                out[here] = tone[:, None] * (self.card * self.colour[:, part]).ravel()
                continue
            kinds = dyed.sizes[0].texels.shape[2]
            planes = out if dyed.mix is None else np.zeros((len(out), kinds), np.float32)
            places = looks.values
            if self.drawn is not None and self.material[part, SEWN]:
                places = places[:, :2].copy()
                places[here] = self.drawn.lay(places[here])
            level = np.clip(-np.log2(finer[here]), 0.0, len(dyed.sizes) - 1.0)
            for size, piece in enumerate(dyed.sizes):
                weight = np.maximum(1.0 - np.abs(level - size), 0.0)
                some = weight > LEAST_WEIGHT
                if some.any():
                    add_planes(planes, piece, dyed.axes, places, here[some], weight[some])
            if dyed.mix is not None:
                mix_planes(planes, dyed.mix, here, out)
        return out


@njit(cache=True, nogil=True)
def mix_planes(
    planes: NDArray[np.float32],
    mix: NDArray[np.float32],
    chosen: NDArray[np.int64],
    out: NDArray[np.float32],
) -> None:
    """The chosen rows of `planes (G, C)` times `mix (C, M)` into those of `out (G, M)`, which are 0."""
    for g in chosen:
        row = out[g]
        for c in range(planes.shape[1]):
            share, own = planes[g, c], mix[c]
            for m in range(len(row)):
                row[m] += share * own[m]


@njit(cache=True, nogil=True)
def sizes_finer(
    pixel: NDArray[np.int64],
    values: NDArray[np.float32],
    nearness: NDArray[np.float32],
    camera: NDArray[np.float64],
    cols: int,
    scale: float,
) -> NDArray[np.float32]:
    """How large cloth is seen at each look (G,), the way it leans away, in pixels a mm times `scale`."""
    out = np.empty(len(pixel), np.float32)
    for g in range(len(pixel)):
        x = (pixel[g] % cols + 0.5 - camera[10]) / camera[9]
        y = (pixel[g] // cols + 0.5 + camera[11]) / camera[9]
        facing = sight = normal = 0.0
        for j in range(3):
            towards = camera[6 + j] - x * camera[j] - y * camera[3 + j]
            facing += towards * values[g, 2 + j]
            sight += towards * towards
            normal += values[g, 2 + j] * values[g, 2 + j]
        cosine = abs(facing) / (np.sqrt(sight) * max(np.sqrt(normal), 1e-6))
        out[g] = scale * camera[9] * nearness[g] * max(cosine, 0.1)
    return out


def seen_per_mm(here: Stage) -> float:
    """Pixels a mm that cloth is sized for: as it is seen where the design is; what lies farther off or leans
    away more is shown smaller."""
    return round(CRISP * here.leaning * float(here.seen.px / here.seen.focus_mm), 2)


def undyed_for(here: Stage, job: Job) -> Undyed:
    """The setting's cloths, lit, by name and turn."""
    made: Undyed = {}
    per_mm = seen_per_mm(here)
    for part in here.setting.parts:
        key = (part.material.fabric, part.material.turn_deg)
        if key[0] and key not in made:
            fabric = job.fabric if key[0] == "job" else load_fabric(key[0])
            made[key] = undyed_cloth(fabric, job.light, turn_deg=key[1], px_per_mm=per_mm, seed=job.seed)
    return made


def cloths_for(
    here: Stage,
    undyed: Undyed,
    lamps: Lamps,
    colourings: Sequence[Colouring],
    seed: int,
    drawn: DrawnIn | None,
) -> Cloths:
    """The parts in every set of colours, the sewn one `drawn` together. Parts of one cloth and colour share
    it."""
    parts = here.setting.parts
    made: dict[tuple[str, float, tuple[Colour, ...]], DyedCloth] = {}
    dyed: list[DyedCloth | None] = []
    for part in parts:
        material = part.material
        colours = tuple(_colour_of(material, one) for one in colourings)
        key = (material.fabric, material.turn_deg, colours)
        if material.fabric and key not in made:
            made[key] = _dyed(undyed[key[:2]], colours)
        dyed.append(made.get(key))
    linear = [[to_linear(np.array(_colour_of(part.material, one))) for part in parts] for one in colourings]
    return Cloths(
        tuple(dyed),
        np.array(linear, np.float32),
        np.array([[part.material.gloss, part.material.fuzz, float(part.sewn)] for part in parts]),
        np.array([part.material.grain for part in parts]),
        lamps.card,
        seen_per_mm(here),
        seed,
        drawn,
    )


def _dyed(cloth: UndyedCloth, colours: tuple[Colour, ...]) -> DyedCloth:
    mix = np.concatenate([dye_weights(cloth, colour) for colour in colours], 1).astype(np.float32)
    if mix.shape[1] >= mix.shape[0]:
        return DyedCloth(cloth.sizes, cloth.axes, mix)
    sizes = [replace(piece, texels=piece.texels @ mix) for piece in cloth.sizes]
    return DyedCloth(tuple(sizes), cloth.axes, None)


def _colour_of(material: Material, colouring: Colouring) -> Colour:
    base = {
        "garment": colouring.garment_srgb,
        "trim": colouring.trim_srgb,
        "own": material.colour_srgb,
    }[material.role]
    return base[0] * material.shade, base[1] * material.shade, base[2] * material.shade
