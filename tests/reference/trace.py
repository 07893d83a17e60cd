"""Thread path-traced filament by filament, with Mitsuba 3 (Jakob et al.), as the outside reference.

A cord is two plies of 40 round filaments each, twisted about each other; each filament is a curve
with the `hair` BSDF (Marschner et al. 2003, d'Eon et al. 2011, Chiang et al. 2016). Lengths are
millimetres of design space (x right, y down, z to the viewer); Mitsuba gets y up.
"""

from __future__ import annotations

import os
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
FILAMENTS = 40  # a ply
PLY_CENTRE, PLY_AXES = 0.45, (0.53, 0.80)  # outwards and around, as shares of the cord's half-width
PACKING = 0.6
MOST_BOUNCES = 80


@dataclass(frozen=True)
class Fibre:
    """Roughness along and around a filament, refractive index, and how far the filaments turn back
    in their ply for each turn of the plies."""

    longitudinal_roughness: float
    azimuthal_roughness: float
    index: float
    counter_twist: float


FIBRES = {
    "rayon": Fibre(0.2, 0.3, 1.53, 1.25),
    "trilobal-polyester": Fibre(0.12, 0.3, 1.6, 1.25),
    "matte-polyester": Fibre(0.45, 0.7, 1.55, 0.8),
}
# Absorption over one filament radius, red, green and blue: a yellow-orange dye.
ABSORPTION = (0.0075, 0.0418, 0.25)


@dataclass(frozen=True)
class Cord:
    """A thread along its way: middle line (N, 3), half-width, half-height (N,) and the angle (N,) from
    its top to the first ply's middle, towards the right of its direction."""

    middle_mm: Floats
    half_width_mm: Floats
    half_height_mm: Floats
    turn_rad: Floats


def filaments(cord: Cord, counter_twist: float) -> tuple[Floats, Floats]:
    """Centre lines (80, N, 3) of a cord's filaments, and their radius (N,)."""
    along = np.gradient(cord.middle_mm, axis=0)
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    right = np.cross(np.array([0.0, 0.0, 1.0]), along)
    right /= np.linalg.norm(right, axis=1, keepdims=True)
    up = np.cross(along, right)
    width, height = cord.half_width_mm[:, None], cord.half_height_mm[:, None]
    # In the section of unit half-width, before it is flattened.
    radius = np.sqrt(PACKING * PLY_AXES[0] * PLY_AXES[1] / FILAMENTS)
    inside = 1.0 - radius
    lines = []
    for ply in range(2):
        turn = (cord.turn_rad + np.pi * ply)[:, None]
        for k in range(FILAMENTS):
            spot = inside * np.sqrt((k + 0.5) / FILAMENTS)
            back = k * np.pi * (3 - 5**0.5) - counter_twist * turn
            out = PLY_CENTRE + PLY_AXES[0] * spot * np.cos(back)
            around = PLY_AXES[1] * spot * np.sin(back)
            sideways = out * np.sin(turn) + around * np.cos(turn)
            rise = out * np.cos(turn) - around * np.sin(turn)
            lines.append(cord.middle_mm + right * width * sideways + up * height * rise)
    return np.array(lines), radius * np.sqrt(cord.half_width_mm * cord.half_height_mm)


@dataclass(frozen=True)
class Camera:
    """A parallel view of `width_mm` by `width_mm * rows / cols` around `middle_mm`, from a direction."""

    middle_mm: tuple[float, float]
    width_mm: float
    rows: int
    cols: int
    azimuth_deg: float = 0.0
    elevation_deg: float = 90.0


def trace(
    cords: list[Cord],
    *,
    fibre: Fibre,
    lamps: list[tuple[float, float, float]],
    dome: float,
    camera: Camera,
    samples: int,
    seed: int,
    absorption: tuple[float, float, float] = ABSORPTION,
    ground: tuple[float, float, float] = (0.5, 0.5, 0.5),
) -> Floats:
    """Radiance (rows, cols, 3) of cords on a matt ground at height 0.

    Lamps are (azimuth deg, elevation deg, irradiance on a card that faces them) and send parallel
    light; the dome has the same radiance everywhere above.
    """
    mi = _mitsuba()
    scene = _thread_and_ground(mi, cords, fibre, absorption, ground)
    scene["camera"] = _sensor(mi, camera, samples)
    scene["integrator"] = {"type": "path", "max_depth": MOST_BOUNCES, "rr_depth": MOST_BOUNCES}
    for i, (azimuth, elevation, irradiance) in enumerate(lamps):
        x, y, z = towards(azimuth, elevation)
        light = {"type": "rgb", "value": [irradiance] * 3}
        scene[f"lamp-{i}"] = {"type": "directional", "direction": [-x, y, -z], "irradiance": light}
    if dome > 0:
        scene["dome"] = {"type": "constant", "radiance": {"type": "rgb", "value": [dome] * 3}}
    return np.asarray(mi.render(mi.load_dict(scene), seed=seed), np.float64)


def _mitsuba() -> Any:
    import mitsuba as mi

    if mi.variant() is None:
        # The compiled variant needs an LLVM library of its own; the plain one runs anywhere.
        mi.set_variant("llvm_ad_rgb" if os.environ.get("DRJIT_LIBLLVM_PATH") else "scalar_rgb")
    return mi


def _thread_and_ground(
    mi: Any,
    cords: list[Cord],
    fibre: Fibre,
    absorption: tuple[float, float, float],
    ground: tuple[float, float, float],
) -> dict[str, Any]:
    """The scene without light and camera; curves are read when it is made."""
    with tempfile.TemporaryDirectory() as folder:
        path = _written(cords, fibre.counter_twist, Path(folder) / "filaments.txt")
        hair = {
            "type": "hair",
            "longitudinal_roughness": fibre.longitudinal_roughness,
            "azimuthal_roughness": fibre.azimuthal_roughness,
            "int_ior": fibre.index,
            "scale_tilt": 0.0,  # thread has no scales
            "sigma_a": {"type": "rgb", "value": list(absorption)},
        }
        thread = mi.load_dict({"type": "bsplinecurve", "filename": str(path), "bsdf": hair})
    return {
        "type": "scene",
        "thread": thread,
        "ground": {
            "type": "rectangle",
            "to_world": mi.ScalarTransform4f().scale([100.0, 100.0, 1.0]),
            "bsdf": {"type": "diffuse", "reflectance": {"type": "rgb", "value": list(ground)}},
        },
    }


def towards(azimuth_deg: float, elevation_deg: float) -> tuple[float, float, float]:
    azimuth, elevation = np.deg2rad([azimuth_deg, elevation_deg])
    flat = np.cos(elevation)
    return float(flat * np.cos(azimuth)), float(flat * np.sin(azimuth)), float(np.sin(elevation))


def _sensor(mi: Any, camera: Camera, samples: int) -> dict[str, Any]:
    x, y, z = towards(camera.azimuth_deg, camera.elevation_deg)
    middle = np.array([camera.middle_mm[0], -camera.middle_mm[1], 0.0])
    up = [0.0, 1.0, 0.0] if camera.elevation_deg > 89 else [0.0, 0.0, 1.0]
    look = mi.ScalarTransform4f().look_at(
        origin=(middle + 50 * np.array([x, -y, z])).tolist(), target=middle.tolist(), up=up
    )
    half = camera.width_mm / 2
    return {
        "type": "orthographic",
        "near_clip": 1.0,
        "far_clip": 200.0,
        "to_world": look @ mi.ScalarTransform4f().scale([half, half, 1.0]),
        "film": {
            "type": "hdrfilm",
            "width": camera.cols,
            "height": camera.rows,
            "rfilter": {"type": "box"},
            "pixel_format": "rgb",
        },
        "sampler": {"type": "independent", "sample_count": samples},
    }


def _written(cords: list[Cord], counter_twist: float, path: Path) -> Path:
    """Filaments as Mitsuba reads curves: a line x y z radius for each control point."""
    blocks = []
    for cord in cords:
        lines, radius = filaments(cord, counter_twist)
        points = np.concatenate(
            [lines * [1, -1, 1], np.broadcast_to(radius[:, None], (*lines.shape[:2], 1))], -1
        )
        for line in points:
            blocks.append("\n".join(" ".join(f"{v:.6g}" for v in point) for point in line))
    path.write_text("\n\n".join(blocks) + "\n", "utf-8")
    return path
