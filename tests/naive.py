"""Slow, plain twins of the compiled kernels: the same answer, reached another way."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates

# --- drawing: grain -------------------------------------------------------------------


def mix32(word: int) -> int:
    """MurmurHash3's 32-bit finaliser (Appleby, public domain), with Python's whole numbers."""
    h = word % 2**32
    h = ((h ^ (h >> 16)) * 0x85EBCA6B) % 2**32
    h = ((h ^ (h >> 13)) * 0xC2B2AE35) % 2**32
    return h ^ (h >> 16)


def hash_unit(index: int, seed: int) -> float:
    return mix32(index * 0x9E3779B1 + (seed % 65536) * 0x85EBCA77 + 0x165667B1) / 2**32


def _smooth(t: float) -> float:
    return t * t * (3 - 2 * t)


def noise2(x: float, y: float, word: int) -> float:
    """Value noise: hashed lattice corners, blended by smoothsteps."""
    corner_x, corner_y = math.floor(x), math.floor(y)
    total = 0.0
    for dx in (0, 1):
        for dy in (0, 1):
            hashed = mix32((corner_x + dx) * 0x27D4EB2F + (corner_y + dy) * 0x165667B1 + word) / 2**32
            weight_x = _smooth(x - corner_x) if dx else 1 - _smooth(x - corner_x)
            weight_y = _smooth(y - corner_y) if dy else 1 - _smooth(y - corner_y)
            total += weight_x * weight_y * hashed
    return 2 * total - 1


def noise1(x: float, word: int) -> float:
    return noise2(x, 0.0, word)


# --- drawing: stacking ----------------------------------------------------------------


def taut(height: NDArray[np.float64]) -> NDArray[np.float64]:
    """Least concave line over the samples: at each place the highest chord over it, O(n^3)."""
    n = len(height)
    lifted = np.array(height, float)
    for k in range(n):
        for i in range(k):
            for j in range(k + 1, n):
                chord = height[i] + (height[j] - height[i]) * (k - i) / (j - i)
                lifted[k] = max(lifted[k], chord)
    for _ in range(12):
        inner = np.convolve(lifted, [0.25, 0.5, 0.25], mode="valid")
        lifted = np.concatenate([lifted[:1], inner, lifted[-1:]])
    return lifted


def dive(
    height: NDArray[np.float64],
    length_mm: float,
    at_start: bool,
    at_end: bool,
    half_heights: tuple[float, float],
    c: Any,
) -> NDArray[np.float64]:
    """Ends of a pressed strand bent down along parabolas, by a share of their half-height."""
    reach = min(c.DIVE_MM[1], 0.45 * length_mm)
    s = np.linspace(0.0, length_mm, len(height))
    out = np.array(height, float)
    for goes, away, half_height in ((at_start, s, half_heights[0]), (at_end, length_mm - s, half_heights[1])):
        near = np.clip(1 - away / reach, 0, None) ** 2 * goes
        out = out - near * c.HOLE_SINK[1] * half_height
    return out


def drawn_out(noise: NDArray[np.float64], run: NDArray[np.float64], steps: int) -> NDArray[np.float64]:
    """Noise added up along the lines of a field that has no sign, all places at once."""
    total = noise.copy()
    field = [run[..., 0], run[..., 1]]
    grid = np.stack(np.meshgrid(*(np.arange(n) for n in noise.shape), indexing="ij")).astype(float)
    for way in (1.0, -1.0):
        at, heading = grid.copy(), way * np.stack(field)
        for _ in range(steps):
            at += heading
            total += map_coordinates(noise, at, order=1, mode="nearest")
            turned = np.stack([map_coordinates(part, at, order=0, mode="nearest") for part in field])
            heading = turned * np.where((turned * heading).sum(0) < 0, -1.0, 1.0)
    return total


def room(strands: Any, i: int, share: float, c: Any) -> tuple[float, float]:
    """Distance from a point of strand i to the next line of its object, to the left and right of it:
    complex numbers, in the strand's own frame (real along it, imaginary to its right)."""
    ends = np.stack([strands.start_mm, strands.end_mm], 1) @ np.array([1, 1j])
    own = ends[i, 1] - ends[i, 0]
    local = (ends - (ends[i, 0] + share * own)) * np.conj(own / abs(own))
    nearest = {False: 2 * c.REACH_MM, True: 2 * c.REACH_MM}
    for j in np.flatnonzero(strands.piece == strands.piece[i]):
        after = strands.stitch[j] - strands.stitch[i]
        run = local[j, 1] - local[j, 0]
        facing = run.real / abs(run)
        if j == i or abs(facing) < c.ALIKE or (abs(after) == 1 and facing > 0):
            continue
        at = -local[j, 0].real / run.real
        if max(-at, at - 1) * abs(run) > c.BEYOND_MM:
            continue
        away = (local[j, 0] + at * run).imag
        # Two that share a hole lie as their other ends do.
        to_the_right = local[j, int(after > 0)].imag >= 0 if abs(after) == 1 else away >= 0
        nearest[bool(to_the_right)] = min(nearest[bool(to_the_right)], abs(away))
    return nearest[False], nearest[True]


def side(room_mm: float, half: float, c: Any) -> float:
    """Half-width to one side: half the room where the thread can fill it."""
    shares = [0, c.LEAST / c.OVERLAP, c.MEETS, c.APART, 99]
    widths = [c.LEAST, c.LEAST, c.MEETS * c.OVERLAP, 1, 1]
    return half * float(np.interp(room_mm / 2 / half, shares, widths))


def sections(strands: Any, counts: Sequence[int], c: Any) -> list[NDArray[np.float64]]:
    """Half-widths to the left and right and half-height of each pressed strand at its samples."""
    out = []
    for i, n in enumerate(counts):
        length = math.dist(strands.start_mm[i], strands.end_mm[i])
        looks = np.linspace(0, 1, (n - 2) // c.EVERY + 2)
        free = (2 * c.REACH_MM, 2 * c.REACH_MM)
        rooms = np.array([room(strands, i, t, c) if strands.piece[i] >= 0 else free for t in looks])
        rows = []
        for t in np.linspace(0, 1, n):
            wave = noise1((strands.along_mm[i] + t * length) / c.UNEVEN_MM, int(strands.grain[i]))
            half = strands.half_width_mm[i] * (1 - c.UNEVEN_WIDTH * (1 + wave) / 2)
            sides = [side(float(np.interp(t, looks, rooms[:, k])), half, c) for k in (0, 1)]
            area = strands.half_width_mm[i] * strands.half_height_mm[i]
            reach = min(c.TAPER_MM[1], 0.45 * length)
            ends = (max(1 - away * length / reach, 0) ** 2 for away in (t, 1 - t))
            kept = math.prod(
                1 - (1 - c.TAPERED[1]) * near * goes
                for near, goes in zip(ends, strands.dives[i], strict=True)
            )
            rows.append([sides[0] * kept, sides[1] * kept, 2 * area / sum(sides)])
        out.append(np.array(rows))
    return out


def settle(
    strands: Any,
    sections_mm: Sequence[NDArray[np.float64]],
    top: NDArray[np.float64],
    c: Any,
) -> tuple[list[NDArray[np.float64]], NDArray[np.float64], NDArray[np.bool_]]:
    """Heights of each strand, the top surface after the last, and the cells under thread.

    `c` holds the constants of the kernel's module."""
    rows, cols = top.shape
    top = top.astype(float)
    covered = np.zeros(top.shape, bool)

    def cell_of(point: NDArray[np.float64]) -> tuple[int, int]:
        col, row = np.floor(point / c.CELL_MM + 0.5).astype(int)
        return int(row) + rows // 2, int(col) + cols // 2

    heights: list[NDArray[np.float64]] = []
    waiting: list[tuple[tuple[int, int], float]] = []
    for i, section in enumerate(sections_mm):
        n = len(section)
        loose = strands.stitch[i] < 0
        start, end = strands.start_mm[i], strands.end_mm[i]
        length = math.dist(start, end)
        if length < 1e-6:
            heights.append(np.zeros(n))
            continue
        along = (end - start) / length
        right = np.array([-along[1], along[0]])
        wide, b = section[:, :2].mean(1), section[:, 2]
        places = np.linspace(0.0, 1.0, n)
        line_mm = start + (end - start) * places[:, None]
        centres = line_mm + right * ((section[:, 1] - section[:, 0]) / 2)[:, None]
        lowest = [
            min(top[cell_of(p + right * (c.REST_SHARE * a * j / 2))] for j in (-2, -1, 0, 1, 2))
            for p, a in zip(centres, wide, strict=True)
        ]
        line = np.maximum(np.array(lowest) - 2 * b * c.SINK_SHARE, 0.0)
        line = line + strands.arch_mm[i] * 4 * places * (1 - places)
        line = dive(line, length, bool(strands.dives[i, 0]), bool(strands.dives[i, 1]), (b[0], b[-1]), c)
        line = taut(line)
        for p, z, a, high in zip(centres, line, wide, b, strict=True):
            steps = math.ceil(a / (0.7 * c.CELL_MM))
            for j in range(-steps, steps + 1):
                v = j / (steps + 0.5)
                where = cell_of(p + right * (v * a))
                waiting.append((where, z + high + high * math.sqrt(1 - v * v)))
                covered[where] |= not loose
        heights.append(line)
        # The parts of one dragged thread lie beside each other, not on each other.
        if not (loose and i + 1 < len(sections_mm) and strands.stitch[i + 1] < 0 < strands.along_mm[i + 1]):
            for where, high in waiting:
                top[where] = max(top[where], high)
            waiting.clear()
    return heights, top, covered


# --- drawing: raster ------------------------------------------------------------------


def strand_at(
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    *,
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    widest: float,
    samples: NDArray[np.float64],
    section: NDArray[np.float64],
    px_per_mm: float,
    cap: float,
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """How high one strand's surface is over each point (-inf beside it), its place along and
    across, and by how much the point lies inside its section."""
    length = math.dist(start, end)
    # In the strand's own frame, by complex numbers: real along it, imaginary to its right.
    local = ((x - start[0]) + 1j * (y - start[1])) * np.conj(complex(*(end - start)) / length)
    s = np.clip(local.real, 0.0, length)
    places = np.linspace(0, 1, len(samples))
    left, right, half_height = (np.interp(s / length, places, part) for part in section.T)
    slimness = np.interp(s / length, places, 2 / (section[:, 0] + section[:, 1])) / px_per_mm
    across = (local.imag - (right - left) / 2 * px_per_mm) * slimness
    beyond = (local.real - s) / (cap * widest)
    inside = 1 - across**2 - beyond**2
    line = np.interp(s / length, places, samples)
    height = line + half_height * (1 + np.sqrt(np.clip(inside, 0, None)))
    return np.where(inside > 0, height, -np.inf), s / length, across, inside


# --- drawing: shadow, sky, cloth --------------------------------------------------------


def key_shadow(
    here_mm: NDArray[np.float64],
    height: NDArray[np.float64],
    strand: NDArray[np.int32],
    halo: int,
    taps: NDArray[np.int64],
    rise: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Light left by the worst of all obstacles on the way to the lamp."""
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
    """Mean over the directions of what no obstacle closes."""
    rows, cols = np.array(height.shape) - 2 * halo
    here = here_mm[halo : halo + rows, halo : halo + cols]
    bare = strand[halo : halo + rows, halo : halo + cols] < 0
    shares = []
    for (dr, dc), gain in zip(taps.tolist(), per_mm.tolist(), strict=True):
        there = height[halo + dr : halo + dr + rows, halo + dc : halo + dc + cols]
        cloth = strand[halo + dr : halo + dr + rows, halo + dc : halo + dc + cols] < 0
        shares.append(np.where(bare & cloth, 1.0, 1 - np.clip((there - here) * gain, 0, 1)))
    return np.mean(shares, axis=0)


# --- drawing: sheen ---------------------------------------------------------------------


def fresnel(index: float, cosine: float) -> float:
    """Unpolarised reflectance, by Fresnel's sine and tangent laws (Born & Wolf, section 1.5.2)."""
    into = math.acos(cosine)
    if into < 1e-9:
        return ((index - 1) / (index + 1)) ** 2
    within = math.asin(math.sin(into) / index)
    across = math.sin(into - within) / math.sin(into + within)
    along = math.tan(into - within) / math.tan(into + within)
    return (across**2 + along**2) / 2


def thread_frame(tilt: float, roll: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Axis and surface normal of a thread along x, tilted up and rolled to the right."""
    axis = np.array([math.cos(tilt), 0.0, math.sin(tilt)])
    beside = np.array([0.0, 1.0, 0.0])
    return axis, math.cos(roll) * np.cross(axis, beside) + math.sin(roll) * beside


def lobes(fibre: Any, axis: Any, normal: Any, light: Any, view: Any) -> tuple[float, float, float, float]:
    """Surface and volume lobes of a thread, the surface without Fresnel's rise, and the volume's depth:
    with vectors and angles."""
    axis, normal, light, view = (np.asarray(v, float) for v in (axis, normal, light, view))
    theta_i, theta_r = math.asin(np.clip(axis @ light, -1, 1)), math.asin(np.clip(axis @ view, -1, 1))
    x = math.sin(theta_i) + math.sin(theta_r)
    flat_light, flat_view = light - (axis @ light) * axis, view - (axis @ view) * axis
    sizes = max(float(np.linalg.norm(flat_light)), 1e-3), max(float(np.linalg.norm(flat_view)), 1e-3)
    phi = math.acos(np.clip(flat_light @ flat_view / (sizes[0] * sizes[1]), -1, 1))
    upright = max(float(normal @ (light + view)), 0.0)
    width = math.hypot(fibre.surface_rad, fibre.surface_tilt * upright)
    plain = math.cos(phi / 2) * math.exp(-((x / width) ** 2) / 2)
    once = (1 - fibre.volume_even) * math.cos(phi / 2) ** fibre.volume_back
    once /= (1 + (x / math.hypot(fibre.volume_rad, fibre.volume_tilt * upright)) ** 2) ** fibre.volume_falloff
    once *= max(upright / 2, 0.5) ** -fibre.volume_low
    deep = fibre.volume_even
    for direction in (light, view):
        ramp = np.clip((normal @ direction + 0.1) / 0.4, 0, 1)
        plain *= 3 * ramp**2 - 2 * ramp**3
        once *= max(float(normal @ direction + fibre.wrap), 0.0) / (1 + fibre.wrap)
        deep *= max(float(normal @ direction + fibre.even_wrap), 0.0) / (1 + fibre.even_wrap)
    plain *= math.sqrt(sizes[0] / sizes[1])
    volume = (once + deep) * 2 * sizes[0] / (sizes[0] + sizes[1])
    depth = (fibre.volume_depth * once + fibre.even_depth * deep) / max(once + deep, 1e-12)
    half_angle = math.acos(np.clip(view @ light, -1, 1)) / 2
    rise = fresnel(fibre.index, math.cos(half_angle)) / fresnel(fibre.index, 1.0)
    return plain * rise, volume, plain, depth


def lobe_integrals(
    fibre: Any, axis: Any, normal: Any, directions: NDArray[np.float64], view: Any
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Integrals of the lobes, and of the volume times its depth, over the sphere and its upper half,
    for evenly spread directions."""
    each = np.array([lobes(fibre, axis, normal, d, view) for d in directions])
    each[:, 3] *= each[:, 1]
    each *= 4 * math.pi / len(directions)
    return each.sum(0), each[directions[:, 2] > 0].sum(0)


def reflected(
    fibre: Any, axis: Any, normal: Any, light: Any, view: Any, directions: NDArray[np.float64]
) -> tuple[float, float, float]:
    """Radiance for irradiance 1 off the skin and from within, and its depth; the lobes' integrals taken
    afresh."""
    (rising, within, whole, _), _ = lobe_integrals(fibre, axis, normal, directions, view)
    surface, volume, _, depth = lobes(fibre, axis, normal, light, view)
    skin = min(fibre.surface_share * rising / whole, 1.0)
    return skin * surface / rising, (1 - skin) * volume / within, depth


# --- drawing: shade ---------------------------------------------------------------------


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
    c: Any,
) -> NDArray[np.float64]:
    """A strand's course in the columns of `render.draw.profile`, its turns of twist less any whole number."""
    place = np.linspace(0, length_mm, len(samples))
    slopes = np.diff(samples) / np.diff(place)
    slopes = np.concatenate([slopes[:1], (slopes[1:] + slopes[:-1]) / 2, slopes[-1:]])
    hand = math.copysign(1.0, twist)
    wander = [noise1((along_mm + s) / c.TWIST_WANDER_MM, word % 65536 + 0x2F1) for s in place]
    turns = (
        hand * (word % 256) / 256 - 2 * twist * (along_mm + place) + hand * c.TWIST_WANDER * np.array(wander)
    )
    light = np.ones(len(place))
    for goes_down, away in ((dives[0], place), (dives[1], length_mm - place)):
        light *= 1 - c.HOLE_DARK * np.clip(1 - away / c.HOLE_MM, 0, None) ** 2 * goes_down
    left, right, half_height = section.T
    out = np.zeros((len(place), c.COLUMNS))
    out[:, c.HEIGHT], out[:, c.HALF_HEIGHT] = samples, half_height
    out[:, c.SLIMNESS] = 2 / (left + right) / px_per_mm
    out[:, c.ASIDE] = (right - left) / 2 * px_per_mm
    out[:, c.TILT], out[:, c.PHASE], out[:, c.HOLE] = np.rad2deg(np.arctan(slopes)), turns, light
    return out


def round_noise(x: float, y: float, cells: tuple[float, int], word: int) -> float:
    """Noise at x radians around a thread and at a share y along a texture that repeats."""
    around, along = x * cells[0], y * cells[1]
    i, j = math.floor(around), math.floor(along)
    u, w = _smooth(around - i), _smooth(along - j)
    corner = [[lattice(i + a, (j + b) % cells[1], word) for a in (0, 1)] for b in (0, 1)]
    rows = [low + (high - low) * u for low, high in corner]
    return 2 * (rows[0] + (rows[1] - rows[0]) * w) - 1


def filaments(row: int, col: int, sub_px_per_mm: float, c: Any) -> NDArray[np.float64]:
    """Streak, hair and stray fibre of one sample of the texture, a Gaussian's mean across the thread."""

    def sharp(k: int) -> list[float]:
        # Beyond the thread's sides it goes on as at them.
        x = math.pi * (min(max(k, 0), c.COLS - 1) / (c.COLS - 1) - 0.5)
        hair = c.HAIR_WEIGHT * round_noise(x, row / c.ROWS, c.HAIR_CELLS, c.WORD + 77)
        hair += c.FINE_HAIR_WEIGHT * round_noise(x, row / c.ROWS, c.FINE_HAIR_CELLS, c.WORD + 59)
        others = [
            round_noise(x, row / c.ROWS, *by)
            for by in ((c.STREAK_CELLS, c.WORD), (c.FUZZ_CELLS, c.WORD + 151))
        ]
        return [others[0], hair, others[1]]

    sigma = (c.COLS - 1) / math.pi / (c.USUAL_HALF_WIDTH_MM * sub_px_per_mm / 2) / math.sqrt(12)
    away = np.arange(-int(4 * sigma + 0.5), int(4 * sigma + 0.5) + 1)
    weights = np.exp(-(away**2) / (2 * sigma**2))
    return np.asarray(weights / weights.sum() @ np.array([sharp(col + k) for k in away.tolist()]))


def thread_radiance(
    *,
    place: float,
    across: float,
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
    texture: NDArray[np.float64],
    constants: Any,
) -> NDArray[np.float64]:
    """Radiance of one point of a strand; `table(azimuth_deg, tilt_deg, roll_deg)` gives the 14
    values of the sheen table there, `texture (rows, cols, 3)` is that of the filaments, of which
    the strand shows the rows from `first_row` on."""
    c = constants
    *albedo, gloss, flake, fuzz = dye
    v = float(np.clip(across, -0.999, 0.999))
    hand = math.copysign(1.0, twist)
    # Looked up in steps of v.
    around = math.asin(min(round(abs(v) * c.ROUND_STEPS) / c.ROUND_STEPS, 0.999)) * math.copysign(1, v)
    here = [np.interp(place, np.linspace(0, 1, len(profile)), column) for column in profile.T]
    turns = around / math.pi + here[c.PHASE]
    ply = 2 * (turns - math.floor(turns + 0.5))
    groove = (1 - c.GROOVE_DEPTH * ply**4 * (1 - 0.6 * v**2)) * here[c.HOLE]
    steps, share = divmod(place * length_mm * c.PER_MM, 1)
    row = (int(steps) + first_row) % c.ROWS
    rows = texture[row] * (1 - share) + texture[(row + 1) % c.ROWS] * share
    turn = (hand * around / math.pi + 0.5) * (c.COLS - 1)
    streak, hair, stray = (np.interp(turn, range(c.COLS), rows[:, k]) for k in range(3))
    tone = 1 + 0.06 * streak + 0.26 * hair + 0.05 * ((word // 256) % 256 / 255 - 0.5)
    wander = streak * 2.5 + hair * 6 + ((word // 65536) % 256 / 255 - 0.5) * 3 + fuzz * 14 * stray
    facet = 0.0
    if flake > 0:
        s = along_mm + place * length_mm
        name = word % 65536 + 0x51A3 + 31
        wound = s * c.WOUND_PER_MM + hand * around / math.pi
        facet = flake * noise2(math.floor(wound) * 3.7, around * 1.3 + s * 0.7, name)
        groove *= 1 - 0.3 * flake * (2 * (wound - math.floor(wound)) - 1) ** 8
    wander += facet * 18
    tilt = here[c.TILT] + facet * 14
    roll = math.atan(0.35 * math.tan(around)) + math.radians(c.PLY_ROLL_DEG) * ply * (1 - v * v)
    unit = 5.0 / c.AZIMUTH_UNIT
    values = table((azimuth_steps + round(hand * wander / unit)) * unit, tilt, math.degrees(roll))
    surface_key, surface_rest, volume_key, volume_rest = values[:12].reshape(4, 3)
    sides = (1 - c.COLUMN_EDGE * v * v) * tone * groove
    albedo = np.array(albedo)
    key_in = lit / (1 - 0.75 * albedo * (1 - lit))
    sky_in = sky / (1 - 0.75 * albedo * (1 - sky))
    dyed_key, dyed_rest = (np.where(albedo < 1, albedo**depth, albedo) for depth in values[12:])
    body = (dyed_key * volume_key * key_in + dyed_rest * volume_rest * sky_in) * sides
    shine = gloss * groove * max(1 + 0.7 * hair, 0) * (0.4 + 0.6 * sky)
    return np.asarray(body + shine * (surface_key * lit + surface_rest * sky))


def block_runs(strand: NDArray[np.int32]) -> list[list[tuple[int, int]]]:
    """Which sub-pixels are shaded as one: those of a block of two by two that show the same."""
    runs = []
    for top, left in np.ndindex(strand.shape[0] // 2, strand.shape[1] // 2):
        block = [(2 * top + a, 2 * left + b) for a, b in np.ndindex(2, 2)]
        runs += [[at for at in block if strand[at] == i] for i in sorted({int(strand[at]) for at in block})]
    return runs


def merged_block(
    heights: NDArray[np.float64], names: NDArray[np.int32], level: float | None
) -> tuple[float, float, float, NDArray[np.int32]]:
    """Mean height of a block of four, of the strand that is highest in it, of the rest; and what shows,
    with cloth at a level or out of sight."""
    if level is not None:
        names = np.where(level > heights, -1, names)
        heights = np.maximum(heights, level)
    top = max(zip(heights.tolist(), names.tolist(), strict=True))[1]
    own, rest = heights[names == top], heights[names != top]
    return heights.mean(), own.mean(), rest.mean() if len(rest) else own.mean(), names


# --- drawing: ground --------------------------------------------------------------------


def inside(outline: NDArray[np.float64], point: NDArray[np.float64]) -> bool:
    """Even-odd rule: how many edges does a ray to the right cross?"""
    crossings = 0
    for k in range(len(outline)):
        (x0, y0), (x1, y1) = outline[k - 1], outline[k]
        if min(y0, y1) <= point[1] < max(y0, y1):
            crossings += bool(x0 + (point[1] - y0) / (y1 - y0) * (x1 - x0) > point[0])
    return crossings % 2 == 1


def film_over(light: NDArray[np.float64], x: float, y: float, seed: int, c: Any) -> NDArray[np.float64]:
    """The cloth's light through a creased film at one point."""
    bend = 0.9 * noise2(0.16 * x, 0.16 * y, seed + 5)
    fine, ripple = noise2(1.9 * x, 1.9 * y, seed + 9), noise2(0.55 * x + bend, 0.3 * y, seed + 13)
    crease = noise2(0.1 * x + bend, 0.07 * y - bend, seed + 3)
    glint = np.clip(1 - 2.6 * abs(crease + 0.25 * ripple), 0, None) ** 3 * (0.6 + 0.4 * fine)
    haze = c.FILM_HAZE * (0.85 + 0.25 * ripple + 0.1 * fine) + c.FILM_GLINT * glint
    return np.asarray(light * c.FILM_CLEAR + haze)


# --- drawing: cloth ---------------------------------------------------------------------


def lattice(i: int, j: int, word: int) -> float:
    """A hashed number in [0, 1) of one lattice point."""
    return mix32(i * 0x27D4EB2F + j * 0x165667B1 + word) / 2**32


def sky_share(
    height: NDArray[np.float64], taps: NDArray[np.int64], reach: NDArray[np.float64], per_direction: int
) -> NDArray[np.float64]:
    """Per direction the cos² of the steepest horizon; whole planes rolled on the torus."""
    shares = []
    for first in range(0, len(taps), per_direction):
        slopes = [
            (np.roll(height, tuple(-t for t in taps[k]), (0, 1)) - height) / reach[k]
            for k in range(first, first + per_direction)
        ]
        shares.append(np.cos(np.arctan(np.clip(np.max(slopes, axis=0), 0, None))) ** 2)
    return np.asarray(np.mean(shares, axis=0))


def shadow_share(
    height: NDArray[np.float64],
    taps: NDArray[np.int64],
    climb: NDArray[np.float64],
    soft: NDArray[np.float64],
) -> NDArray[np.float64]:
    """The least of the light that each step towards the lamp lets past, on the torus."""
    left = [np.ones_like(height)]
    for tap, ray, blur in zip(taps, climb, soft, strict=True):
        there = np.roll(height, tuple(-t for t in tap), (0, 1))
        left.append(np.clip(0.5 - (there - height - ray) / blur, 0, 1))
    return np.asarray(np.min(left, axis=0))


def _tangents(path: NDArray[np.float64]) -> NDArray[np.float64]:
    """Unit chords to the next sample (the last sample keeps the chord before it)."""
    chords = np.diff(path[:, :3], axis=0)
    chords = np.vstack([chords, chords[-1:]])
    return np.asarray(chords / np.linalg.norm(chords, axis=1)[:, None])


def _keep_highest(
    height: NDArray[np.float64], fields: NDArray[np.float64], per_mm: Any, at: Any, values: Any
) -> None:
    """Put samples on the torus in order, each only where it is higher than what lies there."""
    rows, cols = height.shape
    for (x, y, z), value in zip(at, values, strict=True):
        place = math.floor(y * per_mm[1]) % rows, math.floor(x * per_mm[0]) % cols
        if np.float32(z) > height[place]:
            height[place] = z
            fields[place] = value


def lay_core(height: Any, fields: Any, path: Any, per_mm: Any, numbers: Any, core: float) -> None:
    """Half ellipses across the yarn, all samples at once."""
    flat, undyed = numbers[0], numbers[5]
    ahead = np.vstack([path[1:, :3], path[-1:, :3]])
    behind = np.vstack([path[:1, :3], path[:-1, :3]])
    along = (ahead - behind) / np.linalg.norm(ahead - behind, axis=1)[:, None]
    up = np.cross(along, path[:, 3:6])
    at, values = [], []
    for i, (radius, wide) in enumerate(path[:, 6:8]):
        a, b = core * radius * wide, core * radius * flat
        steps = math.ceil(2 * a * per_mm[0] / 0.6) + 1
        v = np.linspace(-1, 1, steps + 1)[:, None]
        w = np.sqrt(np.clip(1 - v * v, 0, None))
        at.append(path[i, :3] + a * v * path[i, 3:6] + b * w * up[i])
        normal = v / a * path[i, 3:6] + w / b * up[i]
        normal /= np.linalg.norm(normal, axis=1)[:, None]
        rest = np.tile([0.9 * path[i, 8], undyed], (steps + 1, 1))
        values.append(np.hstack([np.tile(along[i], (steps + 1, 1)), normal, rest]))
    _keep_highest(height, fields, per_mm, np.vstack(at), np.vstack(values))


def lay_fibres(
    height: Any, fields: Any, path: Any, per_mm: Any, numbers: Any, fibres: int, word: int
) -> None:
    """Each fibre as one array along the yarn."""
    flat, pitch, spread, migration, contrast, undyed, faded, worn, tangle, heather = numbers
    along = _tangents(path)
    across = path[:, 3:6]
    up = np.cross(along, across)
    n = len(path)
    step = np.linalg.norm(path[1, :3] - path[0, :3])
    length = n * step
    s = np.arange(n) * step

    def wave_number(shortest: float, range_: float, i: int, j: int) -> float:
        return float(2 * np.pi * round(length / (shortest + range_ * lattice(i, j, word))) / length)

    k1, k2, k3 = wave_number(0.5, 0.6, 1, 0), wave_number(0.3, 0.4, 2, 0), wave_number(1.0, 1.0, 3, 0)
    for f in range(fibres):
        h = [lattice(f, j, word) for j in range(13)]
        start = 2 * np.pi * (f + h[1]) / fibres
        rate = 2 * np.pi * round(length / pitch * (0.85 + 0.3 * h[2])) / length
        m1, m2 = wave_number(0.9, 1.2, f, 7), wave_number(0.35, 0.5, f, 8)
        p1, p2 = 2 * np.pi * h[9], 2 * np.pi * h[10]
        angle = start + rate * s + tangle * np.sin(m2 * s + p1)
        clump = np.sin(3 * start + k1 * s) + 0.8 * np.sin(5 * start - k2 * s)
        clump += 0.7 * np.sin(2 * start + k3 * s)
        moves = 0.5 * np.sin(m1 * s + p1) + 0.3 * np.sin(m2 * s + p2) + 0.45 * clump
        radius = path[:, 6] * (1 - spread * h[3] ** 1.5) * (1 + migration * moves)
        a, b = (radius * path[:, 7])[:, None], (radius * flat)[:, None]
        cosine, sine = np.cos(angle)[:, None], np.sin(angle)[:, None]
        at = path[:, :3] + a * cosine * across + b * sine * up
        tangent = along + rate * (-a * sine * across + b * cosine * up)
        tangent /= np.linalg.norm(tangent, axis=1)[:, None]
        normal = cosine / a * across + sine / b * up
        normal /= np.linalg.norm(normal, axis=1)[:, None]
        crown = np.minimum(np.maximum(path[:, 2], 0) / path[:, 6], 1)
        pale = max(undyed, 0.10 + 0.30 * h[6]) if h[5] < faded else undyed
        light = path[:, 8] * (1 + contrast * (2 * h[4] - 1)) * (1 + worn * crown)
        shade = np.minimum(pale + worn * crown * h[11], 1)
        shade[h[12] < heather * (1 + 0.8 * np.sin(m1 * s + p2))] = 1.0
        seen = sine[:, 0] >= -0.4
        values = np.column_stack([tangent, normal, light, shade])
        _keep_highest(height, fields, per_mm, at[seen], values[seen])


def _blend_soft(layer: Any, per_mm: Any, x: float, y: float, share: float, least: float) -> Any:
    """The four pixels round a place on the torus, with their part of the share."""
    rows, cols = layer.shape[:2]
    px, py = x * per_mm[0] - 0.5, y * per_mm[1] - 0.5
    c0, r0 = math.floor(px), math.floor(py)
    for dr, wr in ((0, 1 - (py - r0)), (1, py - r0)):
        for dc, wc in ((0, 1 - (px - c0)), (1, px - c0)):
            if share * wr * wc >= least:
                yield ((r0 + dr) % rows, (c0 + dc) % cols), share * wr * wc


def lay_hairs(layer: Any, starts: Any, shape: Any, per_mm: Any) -> None:
    """Hairs blended over each other, in order."""
    for (x, y), (turn, length, bend, opacity) in zip(starts, shape, strict=True):
        step, angle = 0.6 / per_mm[0], turn
        n = int(length / step)
        for i in range(n):
            x, y = x + math.cos(angle) * step, y + math.sin(angle) * step
            rise = 0.5 * math.sin(math.pi * (i + 0.5) / n + math.pi / 2)
            tangent = np.array([math.cos(angle), math.sin(angle), rise]) / math.hypot(1, rise)
            angle += bend * step * (1 + math.sin(7 * turn + 5 * i * step))
            share = 0.6 * opacity * min(1, 4 * i / n, 4 * (n - i) / n)
            for place, part in _blend_soft(layer, per_mm, x, y, share, 0.0):
                layer[place] = (1 - part) * layer[place] + part * np.array([1, *tangent])


def lay_locks(height: Any, moments: Any, locks: Any, per_mm: Any, numbers: Any, word: int) -> None:
    """Fibres of every lock blended over each other, their moments as an outer product."""
    fibres, curl, alpha, dark, tall, clump = numbers
    step = 0.6 / per_mm[0]
    for lock, (x0, y0, lean, longest, depth, lift) in enumerate(locks):
        for f in range(int(fibres)):
            h = [lattice(lock, 4 * f + k, word) for k in range(4)]
            x, y, angle = x0 + clump * (h[0] - 0.5), y0 + clump * (h[1] - 0.5), lean + 0.9 * (h[2] - 0.5)
            n = int(longest * (0.7 + 0.5 * h[2]) / step) + 1
            for i in range(n):
                s = (i + 0.5) / n
                angle += curl * (h[3] - 0.35) * step * (1 + 0.8 * math.sin(9 * h[0] + 4 * i * step))
                arch = math.sin(math.pi * (0.12 + 0.8 * s))
                tangent = np.array(
                    [math.cos(angle), math.sin(angle), 0.9 * math.cos(math.pi * (0.12 + 0.8 * s))]
                )
                tangent /= np.linalg.norm(tangent)
                x, y = x + tangent[0] * step, y + tangent[1] * step
                level = min(max(0.52 * depth + 0.26 * arch + 0.16 + 0.26 * lift, 0), 1)
                light = (dark + (1 - dark) * level**0.8) * (0.62 + 0.38 * arch)
                light *= (0.6 + 0.8 * h[1]) * (1 + 0.12 * lift)
                square = np.outer(tangent, tangent)
                give = light * np.array([1, *square[np.diag_indices(3)], *square[np.triu_indices(3, 1)]])
                share = alpha * min(1, 5 * s, 4 * (1 - s))
                for place, part in _blend_soft(height, per_mm, x, y, share, 0.02):
                    moments[place] = (1 - part) * moments[place] + part * give
                    height[place] = (1 - part) * height[place] + part * tall * level


def yarn_light(fields: Any, hair: Any, shadow: float, lamp: Any, numbers: Any) -> tuple[float, float]:
    """Dyed and uncoloured light of one place under one lamp of unit strength."""
    wrap, along, across, sheen_width, sheen, f0, beta1, beta2, second, floor = numbers
    tangent, normal, lightness = np.array(fields[:3]) / 127, np.array(fields[3:6]) / 127, fields[6] / 64
    wrapped = max((normal @ lamp + wrap) / (1 + wrap), 0)
    sine = tangent @ lamp
    half = (sine + tangent[2]) / 2
    visible = floor + (1 - floor) * shadow
    body = across * wrapped + along * math.sqrt(max(1 - sine**2, 0))
    body = (body + 0.35 * sheen * math.exp(-(half**2) / (2 * sheen_width**2)) * wrapped) * visible * lightness
    lobes = math.exp(-(half**2) / (2 * beta1**2)) / beta1
    lobes += second * math.exp(-(half**2) / (2 * beta2**2)) / beta2
    gloss = f0 / 4 * lobes * visible * wrapped
    cover = hair[0] / 127
    if cover > 0:
        dot = np.array(hair[1:]) @ lamp / 127 / cover
        body = (1 - cover) * body + cover * (0.35 + 0.85 * math.sqrt(max(1 - dot**2, 0)) * lamp[2])
        gloss *= 1 - cover
    return body, gloss


def pile_light(moments: Any, slope: Any, shadow: float, lamp: Any, floor: float, facing: float) -> float:
    """Light of pile by its moment matrix."""
    m, xx, yy, zz, xy, xz, yz = np.array(moments) / 8192
    along = lamp @ np.array([[xx, xy, xz], [xy, yy, yz], [xz, yz, zz]]) @ lamp
    tilt = max(1 - facing * float(np.dot(slope, lamp[:2])) / lamp[2], 0.2)
    return float((m - 0.85 * along) * tilt * (floor + (1 - floor) * shadow))


def yarn_tone(index: int, word: int) -> float:
    a, b, c = (lattice(index, j, word) for j in (3, 4, 5))
    return (a + b - 1) * (0.6 + 1.2 * c**4)


def slow_fields(x: float, y: float, slow: Any, drape: Any, mottle: Any, wander: float, seed: int) -> Any:
    """Gain and wander of the grain at one place."""
    gain = 1.0
    for k, (wave, weight) in enumerate(drape):
        gain += slow[0] * weight * noise2(x / wave + 0.3 * k, y / wave, seed + 101 + k)
    for k, (wave, weight) in enumerate(mottle):
        gain += slow[1] * weight * noise2(x / wave, y / wave + 0.7 * k, seed + 211 + k)
    return np.array([gain, *(slow[2] * noise2(x / wander, y / wander, seed + 307 + 4 * k) for k in (0, 1))])


def cloth_at(piece: Any, place: Any, fields_at: Any) -> NDArray[np.float64]:
    """Radiance and height of a laid piece at one place of the cloth (u, v) in mm.

    `fields_at(x, y)` gives the slow fields at a whole-millimetre node.
    """
    u, v = place
    i, j = math.floor(u), math.floor(v)
    corners = [(i + a, j + b, abs(1 - a - u + i) * abs(1 - b - v + j)) for a in (0, 1) for b in (0, 1)]
    gain, du, dv = sum(w * fields_at(x, y) for x, y, w in corners)
    place = np.array([u + du, v + dv])
    for axis, (spacing, amplitude) in enumerate(piece.streaks):
        at = place[axis] / spacing - 0.5
        k, word = math.floor(at), piece.seed + 17 + 12 * axis
        ease = _smooth(at - k)
        gain *= 1 + amplitude * (yarn_tone(k, word) * (1 - ease) + yarn_tone(k + 1, word) * ease)
    # Corners of the triangle that the place lies in, by its barycentric coordinates.
    base = np.linalg.solve(piece.cell_mm * np.array([[1, 0.5], [0, math.sqrt(3) / 2]]), place)
    cell = np.floor(base).astype(int)
    a, b = base - cell
    if a + b < 1:
        triangle = [((0, 0), 1 - a - b), ((1, 0), a), ((0, 1), b)]
    else:
        triangle = [((1, 1), a + b - 1), ((1, 0), 1 - b), ((0, 1), 1 - a)]
    most = max(w for _, w in triangle)
    weights = [max(w - most + piece.blend, 0) for _, w in triangle]
    rows, cols, _ = piece.texels.shape
    total = np.zeros(4)
    for (corner, _), weight in zip(triangle, weights, strict=True):
        x, y = (int(t) for t in cell + corner)
        shift = piece.shifts[mix32(x * 0x27D4EB2F + y * 0x165667B1 + piece.seed) % len(piece.shifts)] / 65536
        px, py = place * piece.per_mm - 0.5 + shift
        c0, r0 = math.floor(px), math.floor(py)
        for r, wr in ((r0, 1 - py + r0), (r0 + 1, py - r0)):
            for c, wc in ((c0, 1 - px + c0), (c0 + 1, px - c0)):
                total += weight / sum(weights) * wr * wc * piece.texels[r % rows, c % cols]
    return total * np.array([gain, gain, gain, 1.0])


def rows_walked(start: NDArray[np.float64], end: NDArray[np.float64], piece: Any, longest: float) -> Any:
    """Row number of each stitch and whether it only steps to the next row, said in angles."""
    way = end - start
    deg = np.degrees(np.arctan2(way[:, 1], way[:, 0]))

    def turn(i: int, j: int) -> float:
        """Degrees from 0 (straight on) to 180 (back) between the directions of two stitches."""
        return float(abs((deg[j] - deg[i] + 180) % 360 - 180))

    row, steps = [0], [False]
    for i in range(1, len(way)):
        starts_row, step = False, False
        if piece[i] != piece[i - 1]:
            starts_row = True
        elif not steps[-1]:
            here = turn(i - 1, i)
            starts_row = here > math.degrees(math.acos(0.87))
            if i + 1 < len(way) and piece[i + 1] == piece[i]:
                back = turn(i - 1, i + 1) > math.degrees(math.acos(-0.7))
                askew = min(here, turn(i, i + 1)) > math.degrees(math.acos(0.95))
                zigzag = here > 120 and i > 1 and turn(i - 2, i - 1) > 120
                step = back and askew and not zigzag and float(np.hypot(*way[i])) < longest
                starts_row = starts_row or step
        row.append(row[-1] + starts_row)
        steps.append(step)
    return np.array(row), np.array(steps)


def covered_share(start: Any, end: Any, index: Any, block: Any, covering: Any, sizes: Any) -> Any:
    """Share of each object that later covering objects of its block lie over, by sets of cells.

    `sizes` are the side of a cell and the step of samples.
    """
    cell, step = sizes

    def cells(i: int) -> list[tuple[int, int]]:
        run = end[i] - start[i]
        count = int(math.hypot(*run) / step) + 1
        spots = [start[i] + run * ((k + 0.5) / count) for k in range(count)]
        return [(math.floor(y / cell), math.floor(x / cell)) for x, y in spots]

    shares = []
    for thing in range(len(covering)):
        mine = [i for i in range(len(start)) if index[i] == thing]
        over = {
            place
            for i in range(len(start))
            if index[i] > thing and covering[index[i]] and block[i] == block[mine[0]]
            for place in cells(i)
        }
        below = [place in over for i in mine for place in cells(i)]
        shares.append(sum(below) / len(below))
    return np.array(shares)


# --- sewing -----------------------------------------------------------------------------


def shape_values(node: int, fraction: Sequence[float], cols: int) -> dict[int, float]:
    """Bilinear weight of each node around a point of a grid."""
    a, b = fraction
    return {
        node: (1 - a) * (1 - b),
        node + 1: a * (1 - b),
        node + cols: (1 - a) * b,
        node + cols + 1: a * b,
    }


def stitch_vector(
    ends: Sequence[Any], direction: Sequence[float], cols: int, nodes: int
) -> NDArray[np.float64]:
    """b (2 nodes,) of one stitch: its contraction is b . u, its force on the nodes b T.

    `ends` are two pairs of node and fraction.
    """
    b = np.zeros((nodes, 2))
    for sign, (node, fraction) in zip((1.0, -1.0), ends, strict=True):
        for n, weight in shape_values(node, fraction, cols).items():
            b[n] += sign * weight * np.asarray(direction)
    return b.ravel()


def normal_lengths(
    node: NDArray[Any],
    fraction: NDArray[Any],
    cols: int,
    samples: int,
    direction: NDArray[Any],
    length: NDArray[Any],
    nodes: int,
) -> NDArray[np.float64]:
    """Length of thread about each node times the square of its normal, xx, yy, xy."""
    out = np.zeros((nodes, 3))
    for p in range(len(node)):
        s = p // samples
        normal = np.array([-direction[s][1], direction[s][0]])
        square = np.outer(normal, normal)
        for n, weight in shape_values(int(node[p]), fraction[p], cols).items():
            out[n] += weight * length[s] / samples * np.array([square[0, 0], square[1, 1], square[0, 1]])
    return out


def answer_by_offsets(loads: NDArray[Any], table: NDArray[Any]) -> NDArray[np.float64]:
    """Movement (G, R * C, D) of a window under loads (G, R, C, 2): every node asks every other."""
    groups, rows, cols = loads.shape[:3]
    out = np.zeros((rows, cols, groups, table.shape[2]))
    for r in range(rows):
        for c in range(cols):
            for row in range(rows):
                for col in range(cols):
                    answer = table[r - row + rows - 1, c - col + cols - 1]
                    out[r, c] += loads[:, row, col] @ answer.T
    return np.moveaxis(out, 2, 0).reshape(groups, rows * cols, -1)


def tensions_in_turn(
    drawn: NDArray[Any], stiffness: NDArray[Any], tension: float, share: NDArray[Any]
) -> NDArray[np.float64]:
    """Groups of stitches set one after the other: a fresh linear system after each."""
    count = len(stiffness)
    out = np.zeros((count + 1, count))
    set_at: list[float] = []
    so_far = np.zeros(0)
    for g in range(count):
        own = tension / (1 + stiffness[g] * drawn[g, g] * (1 - share[g]))
        out[g, :g], out[g, g] = so_far, share[g] * own
        set_at.append(float(drawn[g, : g + 1] @ out[g, : g + 1]))
        k = stiffness[: g + 1]
        so_far = np.linalg.solve(
            np.eye(g + 1) + k[:, None] * drawn[: g + 1, : g + 1], tension + k * np.array(set_at)
        )
    out[count] = so_far
    return out


# --- drawing: loose thread --------------------------------------------------------------


def lifted(
    height: NDArray[np.float64], free: NDArray[np.bool_], rise: float, held: bool, wave: float, c: Any
) -> NDArray[np.float64]:
    """A loose thread lifted between the places where it is held down, stretch by stretch."""
    out = height.astype(float)
    edges = np.flatnonzero(np.diff(np.concatenate([[0], free.astype(int), [0]])))
    for begin, stop in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        own, m = height[begin:stop].astype(float), stop - begin
        if m < c.SHORTEST and begin > 0 and stop < len(height):
            continue
        # The upper hull at each place is the highest of all chords over it.
        tight = [
            max(
                own[i] + (own[j] - own[i]) * (k - i) / max(j - i, 1)
                for i in range(k + 1)
                for j in range(k, m)
            )
            for k in range(m)
        ]
        u = (np.arange(m) + 0.5) / m
        bow = np.sin(np.pi * u * (0.5 if not held and stop == len(height) else 1.0))
        ripple = 1 - 0.35 * wave * (1 + np.cos(2 * np.pi * (u * (1 + 2 * wave) + wave)))
        out[begin:stop] = (
            own + (1 - c.SLACK) * (np.array(tight) - own) + min(rise, 0.0006 * m**2) * bow * ripple
        )
    return out


# --- scenes


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


# --- drawing: planes of a picture that is lit anew -----------------------------------------


def lie(
    strand: NDArray[Any],
    along: NDArray[Any],
    across: NDArray[Any],
    surface: Callable[[int, float, float], Any],
    azimuth_deg: NDArray[Any],
    sub: int,
    c: Any,
) -> tuple[NDArray[Any], NDArray[Any], NDArray[Any]]:
    """Per pixel the commonest strand, the later of equals, how it lies there, and the share of light
    left; `surface` says azimuth, tilt, roll (degrees), tone and groove of a place on a strand. Samples of
    a strand in a block of two by two count where their middle lies."""
    rows, cols = strand.shape[0] // sub, strand.shape[1] // sub
    order = np.full((rows, cols), -1)
    angles, body = np.zeros((rows, cols, 3)), np.zeros((rows, cols))
    found: dict[tuple[int, int], list[tuple[int, float, float]]] = {}
    for parts in block_runs(strand):
        if (i := int(strand[parts[0]])) >= 0:
            middle = [float(np.mean([plane[p] for p in parts])) for plane in (along, across)]
            pixel = parts[0][0] // sub, parts[0][1] // sub
            found.setdefault(pixel, []).extend([(i, *middle)] * len(parts))
    for r in range(rows):
        for col in range(cols):
            seen = found.get((r, col))
            if not seen:
                continue
            names = [i for i, _, _ in seen]
            best = max(names, key=lambda i: (names.count(i), i))
            lies = np.array([surface(*one)[1:3] for one in seen if one[0] == best]).mean(0)
            turn = azimuth_deg[best] % 360
            angles[r, col] = (turn, *lies) if turn < 180 else (turn - 180, *-lies)
            order[r, col] = best
            body[r, col] = sum(surface(*one)[4] * (1 - c.COLUMN_EDGE * one[2] ** 2) for one in seen) / sub**2
    return order, angles, body


def mark_cover(start, end, section, first, chosen, within, cover):
    """Twin of `render.draw.stack.mark_cover`."""
    from render.draw.stack import CELL_MM

    rows, cols = cover.shape
    for i in chosen:
        samples = section[first[i] : first[i + 1]].astype(float)
        run = end[i] - start[i]
        length = float(np.hypot(*run))
        if length < 1e-6:
            continue
        side = np.array([-run[1], run[0]]) / length
        for k, (left, right, _) in enumerate(samples):
            at = start[i] + run * (k / (len(samples) - 1))
            middle, half = (right - left) / 2, (right + left) / 2
            steps = int(np.ceil(half / (0.7 * CELL_MM)))
            for j in range(-steps, steps + 1):
                x, y = at + side * (middle + j / (steps + 0.5) * half)
                c = int(np.floor(x / CELL_MM + 0.5)) + cols // 2
                r = int(np.floor(y / CELL_MM + 0.5)) + rows // 2
                if within[0] <= r < within[2] and within[1] <= c < within[3]:
                    cover[r, c] = 1.0


def push_forces(stress: NDArray[Any], x_mm: NDArray[Any], y_mm: NDArray[Any]) -> NDArray[np.float64]:
    """Nodal forces (N, 2) of a stress at the nodes (N, 3): less the stress times the cell's way per node.

    Virtual work: a node moved by one changes the cell's mean strain by the slope of its shape function.
    """
    cols = len(x_mm)
    out = np.zeros((len(stress), 2))
    for row in range(len(y_mm) - 1):
        for col in range(cols - 1):
            corners = [row * cols + col + i + cols * j for j in (0, 1) for i in (0, 1)]
            xx, yy, xy = np.mean([stress[n] for n in corners], axis=0)
            wide, high = x_mm[col + 1] - x_mm[col], y_mm[row + 1] - y_mm[row]
            for n, (i, j) in zip(corners, [(0, 0), (1, 0), (0, 1), (1, 1)], strict=True):
                slope = np.array([(2 * i - 1) / (2 * wide), (2 * j - 1) / (2 * high)])
                out[n] -= wide * high * np.array([[xx, xy], [xy, yy]]) @ slope
    return out


def contraction_by_movement(loads: NDArray[Any], moved: NDArray[Any]) -> NDArray[np.float64]:
    """The work (G, H) of loads (G, N, 2) along movements (H, N, 4), of which the first two count."""
    return np.array([[float((load * move[:, :2]).sum()) for move in moved] for load in loads])


def stitch_humps(ends: Sequence[Any], direction: Sequence[float], nodes: int) -> NDArray[np.float64]:
    """Like `stitch_vector` for the movement within cells (nodes, 2): a parabola of height one each way."""
    b = np.zeros((nodes, 2))
    for sign, (node, fraction) in zip((1.0, -1.0), ends, strict=True):
        for axis in range(2):
            b[node, axis] += sign * direction[axis] * (1 - (2 * fraction[axis] - 1) ** 2)
    return b
