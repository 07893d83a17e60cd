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
from scipy.ndimage import gaussian_filter1d

Floats = NDArray[np.float64]
FILAMENTS = 40  # a ply
PLY_CENTRE, PLY_AXES = 0.45, (0.53, 0.80)  # outwards and around, as shares of the cord's half-width
PACKING = 0.6
MOST_BOUNCES = 80
FAINT_BOUNCES = 6  # from here on a path may end by lot, and the others carry its light
LAMP_MM = 1000.0  # how far off a disc lamp stands


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
    its top to the first ply's middle, towards the right of its direction.

    Its plies are ellipses side by side; or `pressed` flat against each other, so that together they
    fill its section: half discs with round corners. `right` is its right-hand side where it may go
    straight down.
    """

    middle_mm: Floats
    half_width_mm: Floats
    half_height_mm: Floats
    turn_rad: Floats
    pressed: bool = False
    right: Floats | None = None


def filaments(cord: Cord, counter_twist: float) -> tuple[Floats, Floats]:
    """Centre lines (80, N, 3) of a cord's filaments, and their radius (N,)."""
    along = np.gradient(cord.middle_mm, axis=0)
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    right = np.cross([0.0, 0.0, 1.0], along) if cord.right is None else np.tile(cord.right, (len(along), 1))
    right /= np.linalg.norm(right, axis=1, keepdims=True)
    up = np.cross(along, right)
    fill = FILL if cord.pressed else 1.0
    width, height = fill * cord.half_width_mm[:, None], fill * cord.half_height_mm[:, None]
    # In the section of unit half-width, before it is flattened.
    area = PLY_AREA if cord.pressed else PLY_AXES[0] * PLY_AXES[1]
    radius = np.sqrt(PACKING * area / FILAMENTS)
    lines = []
    for ply in range(2):
        turn = (cord.turn_rad + np.pi * ply)[:, None]
        for k in range(FILAMENTS):
            out, around = _in_ply(k, radius, counter_twist * turn, cord.pressed)
            sideways = out * np.sin(turn) + around * np.cos(turn)
            rise = out * np.cos(turn) - around * np.sin(turn)
            lines.append(cord.middle_mm + right * width * sideways + up * height * rise)
    return np.array(lines), radius * np.sqrt(cord.half_width_mm * cord.half_height_mm)


def _in_ply(k: int, radius: float, back: Floats, pressed: bool) -> tuple[Floats, Floats]:
    """Filament k of a ply, outwards and around from the section's middle; `back` is the twist in the ply."""
    spot = (1.0 - radius) * np.sqrt((k + 0.5) / FILAMENTS)
    turn = k * np.pi * (3 - 5**0.5) - back
    if not pressed:
        return PLY_CENTRE + PLY_AXES[0] * spot * np.cos(turn), PLY_AXES[1] * spot * np.sin(turn)
    # Equal areas between equal turns: filaments lie evenly.
    angle = np.interp(turn % (2 * np.pi), _SHARE * 2 * np.pi, _ANGLE)
    far = spot * np.interp(angle, _ANGLE, _FAR)
    return HALF_CENTRE + far * np.cos(angle), far * np.sin(angle)


def _half_disc() -> tuple[Floats, Floats, Floats]:
    """Edge of a half disc seen from its middle: angle, distance, and share of the area up to there."""
    angle = np.linspace(0.0, 2 * np.pi, 721)
    flat = HALF_CENTRE / np.maximum(-np.cos(angle), 1e-9)
    sine = HALF_CENTRE * np.sin(angle)
    round_ = np.sqrt(1.0 - sine * sine) - HALF_CENTRE * np.cos(angle)
    far = gaussian_filter1d(
        np.where(np.cos(angle) < 0, np.minimum(flat, round_), round_)[:-1], 16, mode="wrap"
    )
    far = np.append(far, far[0])
    share = np.concatenate([[0.0], np.cumsum((far[1:] ** 2 + far[:-1] ** 2) / 2)])
    return angle, far, share / share[-1]


HALF_CENTRE = 4 / (3 * np.pi)  # of a half disc, from the middle of the disc
_ANGLE, _FAR, _SHARE = _half_disc()
PLY_AREA = float((_FAR[:-1] ** 2).mean())  # over pi, as the product of an ellipse's axes is


def _filling() -> float:
    """Widening with which pressed plies are as wide as their section, in the mean over their turns."""
    turn = np.linspace(0, np.pi, 181)
    radius = np.sqrt(PACKING * PLY_AREA / FILAMENTS)
    places = (_in_ply(k, radius, np.zeros(1), True) for k in range(FILAMENTS))
    reach = [np.abs(out * np.sin(turn) + around * np.cos(turn)) + radius for out, around in places]
    return float(1 / np.max(reach, axis=0).mean())


FILL = _filling()


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
    lamps: list[tuple[float, float, float, float]],
    dome: float,
    camera: Camera,
    samples: int,
    seed: int,
    absorption: tuple[float, float, float] = ABSORPTION,
    ground: tuple[float, float, float] = (0.5, 0.5, 0.5),
) -> Floats:
    """Radiance (rows, cols, 3) of cords on a matt ground at height 0.

    Lamps are (azimuth deg, elevation deg, size deg, irradiance on a card that faces them): far discs, or
    parallel light where their size is 0. The dome has the same radiance everywhere above.
    """
    mi = _mitsuba()
    scene = _thread_and_ground(mi, cords, fibre, absorption, ground)
    scene["camera"] = _sensor(mi, camera, samples)
    scene["integrator"] = {"type": "path", "max_depth": MOST_BOUNCES, "rr_depth": FAINT_BOUNCES}
    for i, lamp in enumerate(lamps):
        scene[f"lamp-{i}"] = _lamp(mi, *lamp, dome)
    if dome > 0:
        scene["dome"] = {"type": "constant", "radiance": {"type": "rgb", "value": [dome] * 3}}
    return np.asarray(mi.render(mi.load_dict(scene), seed=seed), np.float64)


def _lamp(
    mi: Any, azimuth_deg: float, elevation_deg: float, size_deg: float, irradiance: float, dome: float
) -> dict[str, Any]:
    x, y, z = towards(azimuth_deg, elevation_deg)
    if size_deg == 0:
        light = {"type": "rgb", "value": [irradiance] * 3}
        return {"type": "directional", "direction": [-x, y, -z], "irradiance": light}
    half = np.deg2rad(size_deg) / 2
    # A disc sends pi L sin(half)^2 to a card that faces it; and it hides its part of the dome.
    radiance = irradiance / (np.pi * np.sin(half) ** 2) + dome
    far = np.array([x, -y, z]) * LAMP_MM
    look = mi.ScalarTransform4f().look_at(origin=far.tolist(), target=[0.0, 0.0, 0.0], up=[0.0, 0.0, 1.0])
    return {
        "type": "disk",
        "to_world": look @ mi.ScalarTransform4f().scale([LAMP_MM * np.tan(half)] * 2 + [1.0]),
        "emitter": {"type": "area", "radiance": {"type": "rgb", "value": [radiance] * 3}},
    }


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
        "sampler": {"type": "multijitter", "sample_count": samples},
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
