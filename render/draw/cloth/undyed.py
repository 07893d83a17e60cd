"""Cloth lit once for every colour: what a dye of any strength shows follows from a few planes.

A dyed place gives back a (B + A G(a, c)): a its dye's albedo, B the light its fibres meet, A that of the
cloth around, c how closed in it lies, and G what meets dye again and again (`lit.reflected`). Only G
mixes dye and place. As a polynomial in c through a few nodes it is a sum of products of the two, which
averaging over a pixel leaves as it is.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from render import colour
from render.colour import to_linear
from render.disk_cache import code_of, kept
from render.draw import exposure
from render.draw.cloth import lit, relief, sizing, turns
from render.draw.cloth.laying import piece_of
from render.draw.cloth.lit import BOUNCE, BRIGHTEST, SPECULAR_SHARE
from render.draw.cloth.photo import photo_texels
from render.draw.cloth.tile import CODE_VERSION
from render.draw.cloth.tile_cache import UNDYED_SRGB, cached_tile, tile_facts
from render.draw.cloth.turns import exact_turn

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.disk_cache import Arrays
    from render.draw.cloth.laying import Piece
    from render.draw.cloth.lit import Plane
    from render.model import Colour, Fabric, Light

DEGREE = 7  # nodes of the polynomial: colours come out within a level of 255
NODES = 0.5 - 0.5 * np.cos(np.pi * (2 * np.arange(DEGREE) + 1) / (2 * DEGREE))
PLAIN = 6 + DEGREE  # planes: body RGB, gloss RGB, share of each node
SIZES = (1, 2, 4)  # how many times smaller a picture can show it
MIXED = PLAIN + 3 + DEGREE  # and of undyed yarn: body RGB, share of each node


@dataclass(frozen=True, slots=True, eq=False)
class UndyedCloth:
    """A lit cloth without its colour: pieces at falling `sizes`, whose texels are planes, the turn of design
    to cloth axes, and the planes' means `mean (C,)`, empty for a photographed cloth."""

    sizes: tuple[Piece, ...]
    axes: NDArray[np.float64]
    mean: NDArray[np.float64]


def undyed_cloth(
    fabric: Fabric, light: Light, *, turn_deg: float, px_per_mm: float, seed: int
) -> UndyedCloth:
    """As `light_cloth`, for any colour: for a picture of so many pixels a mm, and for others of half and of
    a quarter as many. Kept on disk between runs."""
    if "photo" in fabric.structure:
        arrays = _photo_planes(fabric, px_per_mm)
    else:
        arrays = _kept_planes(fabric, light, turn_deg, px_per_mm)
    wide, high = arrays["size_mm"].tolist()
    across, down = arrays["repeats"].tolist()
    sizes = tuple(
        piece_of(fabric.structure["surface"], arrays[f"texels{size}"], (wide, high), (across, down), seed)
        for size in SIZES
    )
    c, s = exact_turn(turn_deg)
    return UndyedCloth(sizes, np.array([[c, s], [-s, c]]), arrays["mean"])


def _photo_planes(fabric: Fabric, px_per_mm: float) -> Arrays:
    flat, size_mm = photo_texels(fabric, (1.0, 1.0, 1.0), px_per_mm)
    planes = np.zeros((*flat.shape[:2], PLAIN), np.float32)
    planes[..., :3] = flat[..., :3] / np.float32(BRIGHTEST)
    sized = _sized(planes, size_mm, px_per_mm)
    return {**sized, "mean": np.empty(0), "size_mm": np.array(size_mm), "repeats": np.zeros(2, np.int64)}


def _sized(planes: Plane, size_mm: tuple[float, float], px_per_mm: float) -> Arrays:
    """The planes averaged for pictures of each size."""
    out: Arrays = {}
    for size in SIZES:
        groups = (planes[..., k : k + 3] for k in range(0, planes.shape[-1], 3))
        planes = np.dstack([sizing.resized(group, size_mm, px_per_mm / size) for group in groups])
        out[f"texels{size}"] = np.ascontiguousarray(planes)
    return out


def _kept_planes(fabric: Fabric, light: Light, turn_deg: float, px_per_mm: float) -> Arrays:
    finish = fabric.structure["finish"]

    def make() -> Arrays:
        tile = cached_tile(fabric.structure)
        planes = _planes(tile, finish, light, turn_deg)
        return {
            **_sized(planes, tile.size_mm, px_per_mm),
            "mean": planes.mean((0, 1), dtype=np.float64),
            "size_mm": np.array(tile.size_mm),
            "repeats": np.array(tile.repeats),
        }

    code = code_of(
        __file__,
        lit.__file__,
        relief.__file__,
        sizing.__file__,
        exposure.__file__,
        colour.__file__,
        turns.__file__,
    )
    made_from = [tile_facts(fabric.structure, 0), finish, asdict(light), turn_deg, px_per_mm, CODE_VERSION]
    return kept("undyed", made_from, made_by=code, make=make, fits=_fits)


def _fits(arrays: Arrays) -> bool:
    if set(arrays) != {*(f"texels{size}" for size in SIZES), "mean", "size_mm", "repeats"}:
        return False
    texels, mean = [arrays[f"texels{size}"] for size in SIZES], arrays["mean"]
    return (
        all(one.ndim == 3 and one.shape[2] in (PLAIN, MIXED) and one.dtype == np.float32 for one in texels)
        and {one.shape[2:] for one in texels} == {mean.shape}
        and arrays["size_mm"].shape == arrays["repeats"].shape == (2,)
    )


def _planes(tile: Any, finish: dict[str, Any], light: Light, turn_deg: float) -> Plane:
    """All planes (R, C, PLAIN or MIXED) of a tile under the light."""
    body, gloss, closed, pale = lit.gathered(tile, finish, light, turn_deg=turn_deg, mirrored=False)
    nodes = np.moveaxis(node_shares(closed), 0, -1)
    planes = [body, gloss, nodes]
    if pale is not None:
        planes += [body * pale[..., None], nodes * pale[..., None]]
    return np.concatenate(planes, -1, dtype=np.float32)


def node_shares(closed: NDArray[Any]) -> NDArray[np.floating[Any]]:
    """Weight of each node (DEGREE, ...) in the polynomial through the nodes (Lagrange) at `closed`."""
    out = np.ones((DEGREE, *closed.shape), np.float32)
    for node in range(DEGREE):
        for other in range(DEGREE):
            if other != node:
                out[node] *= (closed - np.float32(NODES[other])) / np.float32(NODES[node] - NODES[other])
    return out


def again_at_nodes(albedo: float) -> NDArray[np.float64]:
    """What meets dye again, times the albedo, at each node: a G(a, c)."""
    again = min(BOUNCE * albedo, 0.97) * NODES
    return np.asarray(albedo * again / (1.0 - again))


def dye_weights(cloth: UndyedCloth, colour_srgb: Colour) -> NDArray[np.float64]:
    """Weights (C, 3) of the planes in each channel of cloth whose mean is `colour_srgb`, as `lit.light_tile`
    has it."""
    target = np.minimum(to_linear(np.array(colour_srgb)), BRIGHTEST)
    out = np.zeros((cloth.sizes[0].texels.shape[2], 3))
    if not len(cloth.mean):
        out[:3] = np.diag(target)
        return out
    mean = cloth.mean
    body, shine, nodes = mean[:3], float(mean[3:6].mean()), mean[6:PLAIN]
    mixed = len(mean) == MIXED
    grey, pale = float(body.mean()), float(mean[PLAIN : PLAIN + 3].mean()) if mixed else 0.0
    pale_nodes = mean[PLAIN + 3 :] if mixed else np.zeros(DEGREE)
    natural = _natural(target, grey, nodes, pale, pale_nodes) if mixed else np.zeros(3)
    for k in range(3):
        cap = min(1.0, SPECULAR_SHARE * target[k] / max(shine, 1e-9))
        rest = float(target[k]) - cap * shine - _shown(natural[k], grey, pale, pale_nodes)
        dye = _albedo(rest, grey, grey - pale, nodes - pale_nodes)
        dyed, undyed = body[k] * again_at_nodes(dye), body[k] * again_at_nodes(natural[k])
        out[k, k], out[3 + k, k], out[6:PLAIN, k] = dye, cap, dyed
        if mixed:
            out[PLAIN + k, k], out[PLAIN + 3 :, k] = natural[k] - dye, undyed - dyed
    return out


def _natural(
    target: NDArray[np.float64],
    grey: float,
    nodes: NDArray[np.float64],
    pale: float,
    pale_nodes: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Albedo of undyed yarn in each channel: `lit.dimmed` of what it has on undyed cloth."""
    raw = [_albedo(float(level), grey, grey, nodes) for level in to_linear(np.array(UNDYED_SRGB))]
    share = np.array([_shown(albedo, grey, pale, pale_nodes) for albedo in raw])
    return np.asarray(lit.dimmed(raw, share, target))


def _shown(albedo: float, around: float, body: float, nodes: NDArray[np.float64]) -> float:
    """Mean that a dye shows on cloth of so much mean body and nodes' shares."""
    return float(albedo * body + around * (again_at_nodes(albedo) @ nodes))


def _albedo(mean: float, around: float, body: float, nodes: NDArray[np.float64]) -> float:
    """Albedo with which cloth shows the mean."""
    low, high = 0.0, 4.0
    for _ in range(40):
        middle = 0.5 * (low + high)
        if _shown(middle, around, body, nodes) < mean:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)
