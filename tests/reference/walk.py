"""Sheen curves of the true patch for all places of a lamp at once: `python -m tests.reference.walk`.

Paths run from the camera to the sky, and each is counted where it gets there: what they carry to a
disc of sky is the patch's radiance under a lamp of that size. Writes `sheen.json`; takes about half an
hour on two cores, and needs an LLVM library of its own (DRJIT_LIBLLVM_PATH).
"""

from __future__ import annotations

import json
import re
import sys
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))
from reference.patches import LEANING, PI, TRUE, TRUE_TWIST, patch, true_camera
from reference.trace import ABSORPTION, FIBRES, MOST_BOUNCES, Floats, _sensor, _thread_and_ground

SHEEN = Path(__file__).with_name("sheen.json")
ELEVATIONS_DEG = (15, 30, 45, 60, 75)
STEP_DEG = 15
AZIMUTHS = 360 // STEP_DEG
LAMP_DEG = 10.0
SIDE_PX, SAMPLES, SEEDS = 128, 64, (1, 2)


def all_round(kind: str, leaning: bool, seed: int) -> Floats:
    """Mean radiance (elevations, azimuths, 3) for irradiance pi from each place of the lamp."""
    import drjit as dr
    import mitsuba as mi

    mi.set_variant("llvm_ad_rgb")
    cords = patch(**TRUE, turns_per_mm=TRUE_TWIST)
    scene_dict = _thread_and_ground(mi, cords, FIBRES[kind], ABSORPTION, (0.5, 0.5, 0.5))
    scene_dict["camera"] = _sensor(mi, true_camera(leaning, SIDE_PX), SAMPLES)
    scene = mi.load_dict(scene_dict)
    count = SIDE_PX * SIDE_PX * SAMPLES
    sampler = mi.load_dict({"type": "independent", "sample_count": 1})
    sampler.seed(seed, count)
    pixel = dr.arange(mi.UInt32, count) // SAMPLES
    column, row = mi.Float(pixel % SIDE_PX), mi.Float(pixel // SIDE_PX)
    place = mi.Point2f((column + sampler.next_1d()) / SIDE_PX, (row + sampler.next_1d()) / SIDE_PX)
    ray, _ = scene.sensors()[0].sample_ray(0.0, sampler.next_1d(), place, mi.Point2f(0.5, 0.5))
    found = dr.zeros(mi.Float, len(ELEVATIONS_DEG) * AZIMUTHS * 3)
    _walk(mi, dr, scene, sampler, mi.Ray3f(ray), found)
    dr.eval(found)
    light = np.array(found).reshape(len(ELEVATIONS_DEG), AZIMUTHS, 3)
    return np.asarray(light / count / _solid_angles()[:, None, None] * PI)


def _walk(mi: Any, dr: Any, scene: Any, sampler: Any, ray: Any, found: Any) -> None:
    """Add to `found` what each path carries to the disc of sky that it reaches."""

    def on_its_way(_ray: Any, _throughput: Any, active: Any, _depth: Any, _sampler: Any) -> Any:
        return active

    def step(ray: Any, throughput: Any, active: Any, depth: Any, sampler: Any) -> tuple[Any, ...]:
        hit = scene.ray_intersect(ray, active)
        index = _disc_of(mi, dr, ray.d)
        gone = active & ~hit.is_valid() & (index < len(ELEVATIONS_DEG) * AZIMUTHS)
        for channel in range(3):
            dr.scatter_reduce(dr.ReduceOp.Add, found, throughput[channel], index * 3 + channel, gone)
        active &= hit.is_valid()
        sample, weight = hit.bsdf(ray).sample(
            mi.BSDFContext(), hit, sampler.next_1d(active), sampler.next_2d(active), active
        )
        throughput = throughput * weight
        ray = hit.spawn_ray(hit.to_world(sample.wo))
        depth = depth + 1
        active &= (depth < MOST_BOUNCES) & (dr.max(throughput) > 1e-3)
        # Every other faint path ends, and the others carry its light.
        faint = active & (dr.max(throughput) < 0.1)
        goes_on = sampler.next_1d(active) < 0.5
        throughput = dr.select(faint, throughput * 2.0, throughput)
        active &= ~faint | goes_on
        return ray, throughput, active, depth, sampler

    dr.while_loop((ray, mi.Spectrum(1.0), mi.Bool(True), mi.UInt32(0), sampler), on_its_way, step)


def _disc_of(mi: Any, dr: Any, direction: Any) -> Any:
    """Which place of the lamp a direction (y up) belongs to; a large number for none."""
    step = np.deg2rad(STEP_DEG)
    up = dr.round(dr.asin(dr.clip(direction.z, -1, 1)) / step)
    around = dr.round(dr.atan2(-direction.y, direction.x) / step)
    level = dr.cos(around * step) * direction.x - dr.sin(around * step) * direction.y
    cosine = dr.sin(up * step) * direction.z + dr.cos(up * step) * level
    inside = (up >= 1) & (up <= len(ELEVATIONS_DEG)) & (cosine > np.cos(np.deg2rad(LAMP_DEG / 2)))
    index = (mi.Int32(up) - 1) * AZIMUTHS + (mi.Int32(around) + 2 * AZIMUTHS) % AZIMUTHS
    return dr.select(inside, mi.UInt32(index), mi.UInt32(1 << 20))


def _solid_angles() -> Floats:
    """Of the part of each disc that lies nearer to its own azimuth than to the next, by quadrature."""
    out = []
    offset = np.deg2rad((np.arange(1600) + 0.5) / 1600 * STEP_DEG - STEP_DEG / 2)
    for elevation in np.deg2rad(ELEVATIONS_DEG):
        e, a = elevation + offset[:, None], offset[None, :]
        cosine = np.sin(elevation) * np.sin(e) + np.cos(elevation) * np.cos(e) * np.cos(a)
        out.append(
            ((cosine > np.cos(np.deg2rad(LAMP_DEG / 2))) * np.cos(e)).sum() * (offset[1] - offset[0]) ** 2
        )
    return np.array(out)


def main() -> None:
    kept = json.loads(SHEEN.read_text("utf-8"))
    for kind in FIBRES:
        straight, leaning = (
            np.mean([all_round(kind, view, seed + 10 * view) for seed in SEEDS], axis=0)
            for view in (False, True)
        )
        # Turned by half a turn, the patch is the same.
        straight = (straight + np.roll(straight, AZIMUTHS // 2, axis=1))[:, : AZIMUTHS // 2] / 2
        curves = dict(zip(map(str, ELEVATIONS_DEG), straight, strict=True))
        curves["45 leaning"] = leaning[ELEVATIONS_DEG.index(45)]
        kept["mean_linear"][kind] = {name: np.round(curve, 4).tolist() for name, curve in curves.items()}
        print(kind, file=sys.stderr, flush=True)
    kept["leaning_view"] = LEANING
    text = json.dumps(kept, indent=1)
    row = re.compile(r"\[\s+([-\d.]+),\s+([-\d.]+),\s+([-\d.]+)\s+\]")
    SHEEN.write_text(row.sub(r"[\1, \2, \3]", text) + "\n", "utf-8")


if __name__ == "__main__":
    main()
