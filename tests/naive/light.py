"""Slow, plain twins of light on thread."""

from __future__ import annotations

import math
from collections.abc import Sequence
from types import ModuleType
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates

from naive.grain import noise1, noise2


def key_shadow(
    here_mm: NDArray[np.float64],
    height: NDArray[np.float64],
    strand: NDArray[np.int32],
    halo: int,
    taps: NDArray[np.int64],
    rise: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Light left by the worst of all obstacles on the way to the lamp, in the mean of several ways."""
    if len(taps) > len(rise):
        ways = taps.reshape(-1, len(rise), 2)
        return np.mean([key_shadow(here_mm, height, strand, halo, way, rise) for way in ways], axis=0)
    rows, cols = np.array(height.shape) - 2 * halo
    here = here_mm[halo : halo + rows, halo : halo + cols]
    bare = strand[halo : halo + rows, halo : halo + cols] < 0
    left = [np.ones(here.shape)]
    for (dr, dc), (ray, fade) in zip(taps.tolist(), rise.tolist(), strict=True):
        there = height[halo + dr : halo + dr + rows, halo + dc : halo + dc + cols]
        cloth = strand[halo + dr : halo + dr + rows, halo + dc : halo + dc + cols] < 0
        left.append(np.where(bare & cloth, 1.0, np.clip(0.5 - (there - (here + ray)) / fade, 0, 1)))
    return np.min(left, axis=0)


def sky_open(
    here_mm: NDArray[np.float64],
    height: NDArray[np.float64],
    strand: NDArray[np.int32],
    halo: int,
    taps: NDArray[np.int64],
    per_mm: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Mean over the directions of what no obstacle closes, and what lies lower opens."""
    rows, cols = np.array(height.shape) - 2 * halo
    here = here_mm[halo : halo + rows, halo : halo + cols]
    bare = strand[halo : halo + rows, halo : halo + cols] < 0
    shares = []
    for (dr, dc), gain in zip(taps.tolist(), per_mm.tolist(), strict=True):
        there = height[halo + dr : halo + dr + rows, halo + dc : halo + dc + cols]
        cloth = strand[halo + dr : halo + dr + rows, halo + dc : halo + dc + cols] < 0
        shares.append(np.where(bare & cloth, 1.0, 1 - np.clip((there - here) * gain, -1, 1)))
    return np.mean(shares, axis=0)


def pit_light(
    dimple: NDArray[np.float64], x: NDArray[np.float64], y: NDArray[np.float64], c: Any
) -> NDArray[np.float64]:
    """What pits leave of the light at columns x and rows y of the map of depths."""

    def deep(right: int, down: int) -> NDArray[np.float64]:
        at = np.meshgrid(y + down, x + right, indexing="ij")
        return np.asarray(map_coordinates(dimple, at, order=1, mode="nearest"))

    far = c.PIT_RIM_CELLS
    rim = (deep(far, 0) + deep(-far, 0) + deep(0, far) + deep(0, -far)) / 4
    return np.asarray(1 / (1 + (np.maximum(deep(0, 0) - rim, 0) / c.PIT_WIDE_MM) ** 2))


def profile(
    *,
    length_mm: float,
    along_mm: float,
    dives: Sequence[bool],
    word: int,
    samples: NDArray[np.float64],
    section: NDArray[np.float64],
    px_per_mm: float,
    twist: float,
    hole: tuple[float, float, float],
    c: Any,
) -> NDArray[np.float64]:
    """A strand's course in the columns of `render.draw.profile`, its turns of twist less any whole number; a
    `hole` keeps such a share of the light on cloth, such a share on other thread, over so many mm."""
    place = np.linspace(0, length_mm, len(samples))
    left, right, half_height = section.T

    def inclined(values: NDArray[np.float64]) -> NDArray[np.float64]:
        slopes = np.diff(values) / np.diff(place)
        slopes = np.concatenate([slopes[:1], (slopes[1:] + slopes[:-1]) / 2, slopes[-1:]])
        return np.asarray(np.rad2deg(np.arctan(slopes)))

    hand = math.copysign(1.0, twist)
    wander = [noise1((along_mm + s) / c.TWIST_WANDER_MM, word % 65536 + 0x2F1) for s in place]
    turns = (
        hand * (word % 256) / 256 - 2 * twist * (along_mm + place) + hand * c.TWIST_WANDER * np.array(wander)
    )
    light = np.ones(len(place))
    for goes_down, away, end in ((dives[0], place, 0), (dives[1], length_mm - place, -1)):
        on_cloth = np.clip(-samples[end] / c.BELOW_MM, 0, 1)
        dark = on_cloth * hole[0] + (1 - on_cloth) * hole[1]
        light *= 1 - dark * np.clip(1 - away / hole[2], 0, None) ** 2 * goes_down
    for k, s in enumerate(place):
        if any(goes and away < hole[2] for goes, away in zip(dives, (s, length_mm - s), strict=True)):
            inward = max(
                samples[min(k + c.SUNK_SAMPLES, len(samples) - 1)], samples[max(k - c.SUNK_SAMPLES, 0)]
            )
            sunk = min(max(inward - samples[k] - c.SUNK_FROM_MM, 0) / c.SUNK_HALF_MM, 1)
            light[k] = min(light[k], 1 / (1 + sunk**2))
    out = np.zeros((len(place), c.COLUMNS))
    out[:, c.HEIGHT], out[:, c.HALF_HEIGHT] = samples, half_height
    out[:, c.SLIMNESS] = 2 / (left + right) / px_per_mm
    out[:, c.ASIDE] = (right - left) / 2 * px_per_mm
    out[:, c.TILT] = inclined(samples + c.SEEN_HEIGHT * half_height)
    out[:, c.PHASE], out[:, c.HOLE], out[:, c.GATHER] = turns, light, inclined((left + right) / 2)
    return out


def bounced(lit: float, sky: float, again: Any) -> tuple[Any, Any]:
    """Light of lamp and dome where so much of them is not blocked, and `again` of what there is comes back:
    reflection by reflection."""
    lamp, dome = 0.0, 0.0
    for order in range(200):
        lamp = lamp + lit * (again * (1 - lit)) ** order
        dome = dome + sky * (again * (1 - sky)) ** order
    return lamp + (1 - lamp) * (1 - lit) * again * (1 - sky) * dome, dome


def thread_radiance(
    *,
    place: float,
    across: float,
    over: float,
    pixel_mm: float,
    half_width_mm: float,
    lit: float,
    sky: float,
    length_mm: float,
    along_mm: float,
    twist: float,
    azimuth_steps: int,
    word: int,
    first_row: int,
    profile: NDArray[np.float64],
    dye: Any,
    table: Any,
    shown: Any,
    texture: NDArray[np.float64],
    sparkle: float,
    mean_glint: float,
    valley_depth: float,
    clear: float,
    constants: Any,
) -> NDArray[np.float64]:
    """Radiance of one point of a strand, `over` its end by that share of its round end, seen in a pixel so
    wide; `table(azimuth_deg, tilt_deg, roll_deg)` gives the 14 values of the sheen table there,
    `shown(chord_mm, usual_mm)` what shows of it where its own chord is so long, of such a mean;
    `texture (rows, cols, 3)` is that of the filaments, of which it shows the rows from `first_row` on,
    `mean_glint` that of theirs; a valley between plies loses `valley_depth` of its light;
    `clear` of what comes from its sides counts."""
    c = constants
    *albedo, gloss, flake, fuzz = dye
    v = float(np.clip(across, -0.999, 0.999))
    hand = math.copysign(1.0, twist)
    # Looked up in steps of v.
    around = math.asin(min(round(abs(v) * c.ROUND_STEPS) / c.ROUND_STEPS, 0.999)) * math.copysign(1, v)
    here = [np.interp(place, np.linspace(0, 1, len(profile)), column) for column in profile.T]
    turns = around / math.pi + here[c.PHASE]
    ply = 2 * (turns - math.floor(turns + 0.5))
    steps, share = divmod(place * length_mm * c.PER_MM, 1)
    row = (int(steps) + first_row + c.PLY_ROWS * int(hand) * math.floor(turns + 0.5)) % c.ROWS
    rows = texture[row] * (1 - share) + texture[(row + 1) % c.ROWS] * share
    # Filaments lie on a cylinder, turned by what they follow of the twist.
    turn = hand * (around / math.pi + c.FOLLOW * here[c.PHASE]) * c.COLS
    streak, hair, stray = (np.interp(turn, range(c.COLS), rows[:, k], period=c.COLS) for k in range(3))
    tone = 1 + c.STREAK_TONE * streak + c.HAIR_TONE * hair + 0.05 * ((word // 256) % 256 / 255 - 0.5)
    wide = math.hypot(c.VALLEY_WIDE, 0.75 * pixel_mm / (math.pi / 2 * half_width_mm))
    deep = valley_depth * c.VALLEY_WIDE / wide * (1 + c.VALLEY_UNEVEN * streak)
    valley = deep / (1 + ((1 - abs(ply)) / wide) ** 2) ** 2
    groove = (1 - valley * (1 - 0.6 * v**2)) * here[c.HOLE]
    groove *= 1 - c.EDGE_DARK * v**4 - c.EDGE_VALLEY * valley_depth * v**2
    askew = ((word // 65536) % 256 / 255 - 0.5) * 3
    wander = streak * 4.0 + hair * 6 + askew * (c.ASKEW - c.ASKEW_SIDES * v**2) + fuzz * 14 * stray
    facet = 0.0
    if flake > 0:
        s = along_mm + place * length_mm
        name = word % 65536 + 0x51A3 + 31
        wound = s * c.WOUND_PER_MM + hand * around / (2 * math.pi) + word % 65536 / 65536
        wound += c.WOUND_WANDER * noise1(s, name)
        facet = flake * noise2(math.floor(wound) * 3.7, around * 1.3 + s * 0.7, name)
        groove *= 1 - 0.22 * flake * (2 * (wound - math.floor(wound)) - 1) ** 8
    wander += facet * 18 + hand * v * here[c.GATHER]
    tilt = here[c.TILT] - over * abs(over) * c.END_TILT_DEG + facet * 14 - hand * v * c.CLIMB * askew
    tilt += c.RISE_DEG * streak
    ply_roll = math.radians(c.PLY_ROLL_DEG) * 1.87 * ply * (1 - ply**4)
    roll = math.atan(c.TOP_ROUND * math.tan(around)) + ply_roll * (1 - v * v)
    roll *= 1 - c.TURN_LOST * clear
    unit = 5.0 / c.AZIMUTH_UNIT
    values = table((azimuth_steps + round(hand * wander / unit)) * unit, tilt, math.degrees(roll))
    surface_key, surface_rest, volume_key, volume_rest = values[:12].reshape(4, 3)
    albedo = np.array(albedo)
    seen, beside = min(sky, 1.0), max(sky - 1.0, 0.0)
    key_in, sky_in = bounced(lit * groove, (seen + clear * beside) * groove, c.AGAIN * albedo)
    dyed_key, dyed_rest = (np.where(albedo < 1, albedo**depth, albedo) for depth in values[12:])
    body = (dyed_key * volume_key * key_in + dyed_rest * volume_rest * sky_in) * tone
    usual = 2 * here[c.HALF_HEIGHT] * math.pi / 4
    body = body * shown(2 * here[c.HALF_HEIGHT] * math.sqrt(1 - v * v), usual)
    crown = c.CROWN * (1 - 3 * ply**2) * (1 + streak)
    glint = 1 + 0.7 * max(hair + c.BUNDLE_GLINT * sparkle * streak + crown / 0.7, c.LEAST_GLINT)
    glint = (glint + sparkle * (glint**3 - glint)) / mean_glint
    shine = gloss * groove * glint * (0.4 + 0.6 * seen)
    return np.asarray(body + shine * (surface_key * lit + surface_rest * seen))


def block_runs(strand: NDArray[np.int32]) -> list[list[tuple[int, int]]]:
    """Which sub-pixels are shaded as one: those of a block of two by two that show the same."""
    runs = []
    for top, left in np.ndindex(strand.shape[0] // 2, strand.shape[1] // 2):
        block = [(2 * top + a, 2 * left + b) for a, b in np.ndindex(2, 2)]
        runs += [[at for at in block if strand[at] == i] for i in sorted({int(strand[at]) for at in block})]
    return runs


def merged_block(
    heights: NDArray[np.float64], names: NDArray[np.int32], level: float | None
) -> tuple[float, float, float, NDArray[np.int32], NDArray[np.float64]]:
    """Mean height of a block of four, of the strand that is highest in it, of the rest; and what shows how
    high, with cloth at a level or out of sight."""
    if level is not None:
        names = np.where(level > heights, -1, names)
        heights = np.maximum(heights, level)
    top = max(zip(heights.tolist(), names.tolist(), strict=True))[1]
    own, rest = heights[names == top], heights[names != top]
    return heights.mean(), own.mean(), rest.mean() if len(rest) else own.mean(), names, heights


def block_sets(names: NDArray[np.int32], heights: NDArray[np.float64], constants: ModuleType) -> int:
    """What a block of four shows, as one number: a set for the thread of each sub-pixel that is its first."""
    four = names.tolist()
    parts = []
    for k, name in enumerate(four):
        first = name >= 0 and four.index(name) == k
        parts.append([j for j in range(4) if first and four[j] == name])
    highest = [j for j in range(4) if heights[j] == heights.max()]
    cloth = [j for j in range(4) if four[j] < 0]
    places = [*(constants.SET * k for k in range(4)), constants.HIGHEST, constants.OPEN]
    number = sum(
        1 << place + j for place, own in zip(places, [*parts, highest, cloth], strict=True) for j in own
    )
    return number + (int(constants.NOTHING_BUT_CLOTH) if len(cloth) == 4 else 0)
