"""Slow, plain twins of thread: stacked, dragged, rasterised."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates

from naive.ends import kept_width, straight_on
from naive.grain import noise1


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
    goes: Sequence[bool],
    half_heights: Sequence[float],
    bends: Sequence[Sequence[float]],
) -> NDArray[np.float64]:
    """Ends of a strand bent down along parabolas: `bends` say over which length and by how many of their
    half-heights."""
    s = np.linspace(0.0, length_mm, len(height))
    out = np.array(height, float)
    for down, away, half_height, (reach_mm, deep) in zip(
        goes, (s, length_mm - s), half_heights, bends, strict=True
    ):
        reach = min(reach_mm, 0.45 * length_mm)
        out = out - np.clip(1 - away / reach, 0, None) ** 2 * deep * half_height * down
    return out


def drawn_out(noise: NDArray[Any], run: NDArray[Any], steps: int) -> NDArray[np.float64]:
    """Noise added up along the lines of a field that has no sign, all places at once."""
    total, field = noise.astype(float), run.astype(float)
    grid = np.stack(np.meshgrid(*(np.arange(n) for n in noise.shape), indexing="ij")).astype(float)
    for way in (1.0, -1.0):
        at, heading = grid.copy(), way * field
        for _ in range(steps):
            at += heading
            total += map_coordinates(noise, at, order=1, mode="nearest")
            turned = np.stack([map_coordinates(part, at, order=0, mode="nearest") for part in field])
            heading = turned * np.where((turned * heading).sum(0) < 0, -1.0, 1.0)
    return total


def room(strands: Any, i: int, share: float, c: Any, stretched: float) -> tuple[float, float]:
    """Distance from a point of strand i to the next line of its object, to the left and right of it, and what
    it takes of the room that this leaves where it gathers; the cloth has since `stretched` by so much.

    In complex numbers, in the strand's own frame (real along it, imaginary to its right)."""
    ends = np.stack([strands.start_mm, strands.end_mm], 1) @ np.array([1, 1j])
    own = ends[i, 1] - ends[i, 0]
    local = (ends - (ends[i, 0] + share * own)) * np.conj(own / abs(own))
    nearest = {False: 2 * c.REACH_MM, True: 2 * c.REACH_MM}
    gaps = {False: 0.0, True: 0.0}
    length = abs(own) / stretched
    free = max(2 * kept_width(strands, i, share * length, length, c) - 1, 0)
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
        if abs(away) < nearest[bool(to_the_right)]:
            nearest[bool(to_the_right)] = abs(away)
            span = abs(run) / stretched
            gathered = 1 - kept_width(strands, j, min(max(at, 0), 1) * span, span, c)
            gaps[bool(to_the_right)] = free * strands.half_width_mm[j] * gathered
    left, right = (min(nearest[side] + gaps[side], 2 * c.REACH_MM) for side in (False, True))
    return left, right


def side(room_mm: float, half: float, c: Any) -> float:
    """Half-width to one side: half the room where the thread can fill it."""
    shares = [0, c.LEAST / c.OVERLAP, c.MEETS, c.APART, 99]
    widths = [c.LEAST, c.LEAST, c.MEETS * c.OVERLAP, 1, 1]
    return half * float(np.interp(room_mm / 2 / half, shares, widths))


def sections(
    strands: Any, counts: Sequence[int], c: Any, stretched: float = 1.0
) -> list[NDArray[np.float64]]:
    """Half-widths to the left and right and half-height of each pressed strand at its samples; the cloth has
    since `stretched` by so much."""
    out = []
    for i, n in enumerate(counts):
        length = math.dist(strands.start_mm[i], strands.end_mm[i]) / stretched
        looks = np.linspace(0, 1, (n - 2) // c.EVERY + 2)
        free = (2 * c.REACH_MM, 2 * c.REACH_MM)
        rooms = np.array(
            [room(strands, i, t, c, stretched) if strands.piece[i] >= 0 else free for t in looks]
        )
        rows = []
        for t in np.linspace(0, 1, n):
            wave = noise1((strands.along_mm[i] + t * length) / c.UNEVEN_MM, int(strands.grain[i]))
            half = strands.half_width_mm[i] * (1 - c.UNEVEN_WIDTH * (1 + wave) / 2)
            sides = [side(float(np.interp(t, looks, rooms[:, k])), half, c) for k in (0, 1)]
            area = strands.half_width_mm[i] * strands.half_height_mm[i]
            kept = kept_width(strands, i, t * length, length, c)
            bow = 0.0 if strands.bow_mm is None else strands.bow_mm[i] * (1 - c.WAIST * (2 * t - 1) ** 4)
            rows.append([sides[0] * kept + bow, sides[1] * kept - bow, 2 * area / sum(sides) / kept])
        out.append(np.array(rows))
    return out


def settle(
    strands: Any,
    sections_mm: Sequence[NDArray[np.float64]],
    top: NDArray[np.float64],
    c: Any,
) -> tuple[list[NDArray[np.float64]], NDArray[np.float64]]:
    """Heights of each strand, and the top surface after the last.

    `c` holds the constants of the kernel's module."""
    rows, cols = top.shape
    top = top.astype(float)

    def cell_of(point: NDArray[np.float64]) -> tuple[int, int]:
        col, row = np.floor(point / c.CELL_MM + 0.5).astype(int)
        return int(row) + rows // 2, int(col) + cols // 2

    def height_at(point: NDArray[np.float64]) -> float:
        at = np.rint(point[::-1] / c.CELL_MM * c.FINE) / c.FINE + np.array(top.shape) // 2
        return float(map_coordinates(top, at[:, None], order=1)[0])

    heights: list[NDArray[np.float64]] = []
    waiting: list[tuple[tuple[int, int], float]] = []
    own: list[tuple[tuple[int, int], float]] = []
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
            min(height_at(p + right * (c.REST_SHARE * a * j / 2)) for j in (-2, -1, 0, 1, 2))
            for p, a in zip(centres, wide, strict=True)
        ]
        line = np.maximum(np.array(lowest) - 2 * b * c.SINK_SHARE, 0.0)
        line = line + strands.arch_mm[i] * 4 * places * (1 - places)
        # On other thread it bends down by less.
        held = [1 - c.HELD_UP * min(max(*two, 0) / c.HELD_UP_MM, 1) for two in (line[:2], line[-2:])]
        ends = [b[0] * held[0], b[-1] * held[1]]
        line = taut(dive(line, length, strands.dives[i], ends, [(c.DIVE_MM[1], c.HOLE_SINK[1])] * 2))
        if strands.piece[i] >= 0 and any(straight_on(strands, i)):
            # Threads of a fill hold each other up.
            line = line + np.clip(c.EVENED * (line.mean() - line), 0, c.HELD_MM)
        plunges = [
            c.PLUNGES[c.IN_LINE if strands.piece[i] < 0 else c.STRAIGHT if on else c.AMONG]
            for on in straight_on(strands, i)
        ]
        line = dive(line, length, strands.dives[i], ends, plunges)
        own.clear()
        for p, z, a, high in zip(centres, line, wide, b, strict=True):
            steps = math.ceil(a / (0.7 * c.CELL_MM))
            for j in range(-steps, steps + 1):
                v = j / (steps + 0.5)
                where = cell_of(p + right * (v * a))
                own.append((where, z + high + high * math.sqrt(1 - v * v)))
        heights.append(line)
        # The parts of one dragged thread lie beside each other, not on each other.
        more = i + 1 < len(sections_mm)
        if loose and more and strands.stitch[i + 1] < 0 < strands.along_mm[i + 1]:
            waiting += own
            continue
        # Nor does what goes straight on through a hole lie on what came out of sight there.
        beside = more and strands.piece[i + 1] >= 0 and straight_on(strands, i + 1)[0]
        for where, high in waiting if beside else waiting + own:
            top[where] = max(top[where], high)
        waiting = own.copy() if beside else []
    return heights, top


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
    c: Any,
) -> list[NDArray[np.float64]]:
    """How high one strand's surface is over each point (-inf beside it), its place along and
    across, by how much the point lies inside its section, and how near (0.5: half-way) its place is to the
    next of those at which heights are known."""
    length = math.dist(start, end)
    # In the strand's own frame, by complex numbers: real along it, imaginary to its right.
    local = ((x - start[0]) + 1j * (y - start[1])) * np.conj(complex(*(end - start)) / length)
    s = np.clip(local.real, 0.0, length)
    places = np.linspace(0, 1, len(samples))
    slimness = 2 / (section[:, 0] + section[:, 1]) / px_per_mm
    aside = (section[:, 1] - section[:, 0]) / 2 * px_per_mm

    def across_at(place: NDArray[np.float64]) -> NDArray[np.float64]:
        middle = np.interp(place, places, aside)
        return np.asarray((local.imag - middle) * np.interp(place, places, slimness))

    known = s / length * (len(samples) - 1) * c.FINE
    near = np.floor(known + 0.5) / (len(samples) - 1) / c.FINE
    inside = 1 - across_at(near) ** 2 - ((local.real - s) / (c.CAP * widest)) ** 2
    line, half_height = (np.interp(near, places, part) for part in (samples, section[:, 2]))
    height = line + half_height * (1 + np.sqrt(np.clip(inside, 0, None)))
    height = np.where(inside > 0, height, -np.inf)
    return [height, s / length, across_at(s / length), inside, known % 1]


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


def tightened(ask: NDArray[np.float64], heights: NDArray[np.float32]) -> NDArray[np.float64]:
    """Heights of one strand that is drawn tight as asked: crown, wave, sunk, dips of either end, how often
    the length of those goes into the strand's own."""
    crown, wave, sunk, dip, other, often = ask.tolist()
    highest = 0.5 - math.sqrt(3.0) / 6.0  # where t (1 - t) (1 - 2 t) is at most
    most = highest * (1 - highest) * (1 - 2 * highest)
    out = []
    for k, height in enumerate(heights.tolist()):
        t = k / (len(heights) - 1)
        height += crown * (1 - (2 * t - 1) ** 2) + wave * t * (1 - t) * (1 - 2 * t) / most - sunk
        height -= dip * max(1 - t * often, 0) ** 2 + other * max(1 - (1 - t) * often, 0) ** 2
        out.append(height)
    return np.array(out)
