"""Slow, plain twins of pieces on garments."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from naive.lobes import lobes


def sample_seen(x: float, y: float, place: Any, values: Any, corners: Any) -> tuple[int, float, Any]:
    """The nearest triangle over a point of the picture, -1 for none; one over its depth, and the values
    there: found by solving for the point's barycentric coordinates, and right in perspective."""
    best, nearest, found = -1, 0.0, np.zeros(values.shape[1])
    for t, three in enumerate(corners):
        (ax, ay, aw), (bx, by, bw), (cx, cy, cw) = place[three]
        system = np.array([[ax, bx, cx], [ay, by, cy], [1.0, 1.0, 1.0]])
        if abs(np.linalg.det(system)) < 1e-12:
            continue
        p, q, s = np.linalg.solve(system, [x, y, 1.0])
        if min(p, q, s) < -1e-9:
            continue
        near = p * aw + q * bw + s * cw
        if near > nearest:
            best, nearest = t, near
            found = (p * aw * values[three[0]] + q * bw * values[three[1]] + s * cw * values[three[2]]) / near
    return best, nearest, found


def looks_of_pixel(which: Any, depth: Any, values: Any) -> list[tuple[int, int, float, Any]]:
    """Part, number of samples, mean nearness and mean values of each part within one pixel's samples."""
    found = []
    for part in dict.fromkeys(which.ravel().tolist()):
        here = which == part
        found.append((part, int(here.sum()), float(depth[here].mean()), values[here].mean(axis=0)))
    return found


def spread_light(light: Any, circle: Any, most: float, sharp: float) -> Any:
    """Each pixel as the mean of those whose circle of confusion reaches it, weighted by one over its area."""
    rows, cols = circle.shape
    reach = math.ceil(min(float(abs(circle).max()), most) / 2 + 1)
    out = np.empty_like(light)
    clipped = np.clip(circle, -most, most)
    padded = np.pad(clipped, reach, mode="edge")
    lights = np.pad(light, ((reach, reach), (reach, reach), (0, 0)), mode="edge")
    for r in range(rows):
        for c in range(cols):
            own = abs(clipped[r, c])
            few = (0, reach, 2 * reach)
            corner = [abs(padded[r + j, c + k]) for j in few for k in few]
            if own <= sharp and max(corner) <= sharp:
                out[r, c] = light[r, c]
                continue
            weights = np.zeros((2 * reach + 1, 2 * reach + 1))
            for j in range(2 * reach + 1):
                for k in range(2 * reach + 1):
                    there = padded[r + j, c + k]
                    wide = min(-there, own) if there < 0 else there
                    radius = max(wide, 1.0) / 2
                    inside = radius + 0.5 - math.hypot(j - reach, k - reach)
                    weights[j, k] = min(max(inside, 0.0), 1.0) / radius**2
            part = lights[r : r + 2 * reach + 1, c : c + 2 * reach + 1]
            out[r, c] = (weights[..., None] * part).sum((0, 1)) / weights.sum()
    return out


def turned_gains(
    fibre: Any, norms: Any, angles: tuple[float, float, float], frame: Any, lamps: Any, shares: Any, dome: Any
) -> Any:
    """Light of skin by key and rest and of dye by key and rest (4, 3), and the mean depth of the latter two
    (2), for thread on a turned surface: with matrices. `shares` are those of the dome that skin and dye
    reach, and the dye's depth times what reaches above and below; `norms(axis, normal, view)`."""
    azimuth, tilt, roll = angles
    axes = np.array(frame[:9]).reshape(3, 3)
    view, key, sky = np.array(frame[9:12]), frame[12], frame[13]
    along = np.array([math.cos(tilt) * math.cos(azimuth), math.cos(tilt) * math.sin(azimuth), math.sin(tilt)])
    upright = np.array(
        [-math.sin(tilt) * math.cos(azimuth), -math.sin(tilt) * math.sin(azimuth), math.cos(tilt)]
    )
    aside = np.array([-math.sin(azimuth), math.cos(azimuth), 0.0])
    axis, normal = along @ axes, (math.cos(roll) * upright + math.sin(roll) * aside) @ axes
    whole, within, skin = norms(axis, normal, view)
    gains, depths = np.zeros((4, 3)), np.zeros(2)
    for lamp in lamps:
        towards, colour, is_key = lamp[:3], lamp[3:6], lamp[6] > 0.5
        above = np.clip(axes[2] @ towards / 0.12 + 0.3, 0.0, 1.0)
        surface, volume, _, depth = lobes(fibre, axis, normal, towards, view)
        strength = above * (key if is_key else 0.5 + 0.5 * sky)
        gains[0 if is_key else 1] += strength * skin * surface / whole * colour
        dyed = strength * (1 - skin) * volume / within * colour
        gains[2 if is_key else 3] += dyed
        depths[0 if is_key else 1] += depth * dyed.sum()
    for row, share, part in ((1, shares[0], skin), (3, shares[1], 1 - skin)):
        gains[row] += part * sky * (share * np.array(dome[:3]) + (1 - share) * dome[3])
    depths[1] += (1 - skin) * sky * (shares[2] * sum(dome[:3]) + 3 * shares[3] * dome[3])
    totals = gains[2:].sum(1)
    return gains, np.array([d / t if t > 0 else 1.0 for d, t in zip(depths, totals, strict=True)])


def lit_cloth(
    cloth: Any, colour: Any, material: Any, normal: Any, view: Any, shares: Any, lights: Any
) -> Any:
    """Light of a look at cloth: what lies flat, times its light as it stands over that of a card, plus
    what loose fibres and a smooth skin add. `lights`: lamp rows, dome, card, and the three constants."""
    lamps, dome, card, bounce, refill = lights
    normal = normal / np.linalg.norm(normal)
    key, sky = shares
    if normal @ view < 0:
        normal, sky = -normal, 0.6
    gloss, fuzz = material
    filled = sky / (1 - refill * colour * (1 - min(sky, 1.0)))
    made = dome * filled + bounce * card * (1 - normal[2]) / 2
    shine = np.zeros(3)
    for index, lamp in enumerate(lamps):
        towards, light, width = lamp[:3], lamp[3:6], lamp[6]
        cosine = float(normal @ towards)
        facing = cosine if cosine > width else max(cosine + width, 0.0) ** 2 / (4 * width + 1e-9)
        reach = key if index == 0 else 0.4 + 0.6 * min(sky, 1.0)
        made = made + light * facing * reach
        half = (view + towards) / np.linalg.norm(view + towards)
        spot = math.exp(-(1 - max(float(normal @ half), 0)) / (0.004 + 0.1 * width**2 + 0.03 * (1 - gloss)))
        shine = shine + (spot * reach * gloss * 0.35 * math.pi * light if gloss > 0 else 0)
    edge = 1 - float(normal @ view)
    if gloss > 0:
        shine = shine + gloss * (0.04 + 0.5 * edge**5) * min(sky, 1.0) * 1.6 * dome
    return made / card * (cloth + fuzz * edge**3 * (0.25 * colour + 0.05)) + shine
