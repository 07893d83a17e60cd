"""Slow, plain twins of what covers what, and how it lies."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from naive.grain import lattice
from naive.light import block_runs


def looked_at(rows: int, cols: int, askew_px: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Column and row (rows, cols), with fractions, of where in each sub-pixel thread is looked for."""
    down, right = np.mgrid[:rows, :cols].astype(float)
    return right + askew_px * (-1) ** down, down - askew_px * (-1) ** right


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
            body[r, col] = sum(surface(*one)[4] for one in seen) / sub**2
    return order, angles, body


def mark_cover(start, end, section, first, chosen, within, cover):
    """Twin of the cover of `render.draw.laid.laid_maps`, but for its holes."""
    from render.draw.across import CELL_MM

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
                    cover[r, c] = max(cover[r, c], 1.0)


def mark_holes(start, end, chosen, within, cover):
    """Twin of `render.draw.stack.mark_holes`."""
    from render.draw.across import CELL_MM

    cells = np.floor(np.concatenate([start[chosen], end[chosen]])[:, ::-1] / CELL_MM + 0.5).astype(int)
    for r, c in cells + np.array(cover.shape) // 2:
        if within[0] <= r < within[2] and within[1] <= c < within[3]:
            cover[r, c] = 3.0


def thread_over_mm(strands, section, first, shape, cell_mm, across_step):
    """Thickness of sewn thread by cell of the map: every little piece of a section lies in one cell."""
    out = np.zeros(shape)
    for i in np.flatnonzero(strands.stitch >= 0):
        samples = section[first[i] : first[i + 1]].astype(float)
        run = strands.end_mm[i] - strands.start_mm[i]
        length = float(np.hypot(*run))
        side = np.array([-run[1], run[0]]) / length
        for k, (left, right, high) in enumerate(samples):
            at = strands.start_mm[i] + run * (k / (len(samples) - 1))
            half = (left + right) / 2
            steps = int(np.ceil(half / (across_step * cell_mm)))
            for v in np.arange(-steps, steps + 1) / (steps + 0.5):
                place = at + side * ((right - left) / 2 + v * half)
                col, row = np.floor(place / cell_mm + 0.5).astype(int) + np.array(shape[::-1]) // 2
                volume = 2 * high * np.sqrt(1 - v**2) * length / len(samples) * half / (steps + 0.5)
                out[row, col] += volume / cell_mm**2
    return out


def movement(u, places, origin, cell):
    """Twin of `render.draw.unmoved.movement`."""
    rows, cols = u.shape[:2]
    out = []
    for x, y in places:
        c = min(max((x - origin[0]) / cell, 0), cols - 1)
        r = min(max((y - origin[1]) / cell, 0), rows - 1)
        total = np.zeros(2)
        for k in range(cols):
            for h in range(rows):
                total = total + max(0.0, 1 - abs(c - k)) * max(0.0, 1 - abs(r - h)) * u[h, k]
        out.append(total)
    return np.array(out)


def apart(one, other, most, tile):
    """Twin of `render.draw.pressed.keep_apart`."""
    far = np.abs(one.astype(float) - other) > most
    high, wide = (-(-side // tile) for side in far.shape)
    whole = np.zeros((high * tile, wide * tile), bool)
    whole[: far.shape[0], : far.shape[1]] = far
    return whole.reshape(high, tile, wide, tile).any((1, 3))


def lay_stray(
    noted: Any, strand: Any, sub: int, edge: int, axes: Any, cells: Any, numbers: Any, seed: int
) -> None:
    """Loose fibres over thread: each a chain of six pieces from where cloth is seen, told by distances,
    and its shadow beside it."""
    per_mm2, length, wide_mm, per_mm = numbers[:4]
    corner, shadow = numbers[4:6], numbers[6:]

    def seen(place: Any) -> int:
        col, row = (math.floor((value + edge) * sub) for value in place)
        inside = 0 <= row < strand.shape[0] and 0 <= col < strand.shape[1]
        return max(int(strand[row, col]), -1) if inside else -2

    def fibre(u: int, v: int, n: int) -> None:
        chance = [lattice(u, v, seed + 409 + 7 * n + k) for k in range(6)]
        chain = [((np.array([u + chance[0], v + chance[1]]) @ axes) - corner) * per_mm]
        step = length * 1.6 * (0.25 + 0.75 * chance[4] ** 2) / 6 * per_mm
        for k in range(6):
            angle = 2 * math.pi * chance[2] + k * 2.4 * (2 * chance[3] - 1) / 6
            chain.append(chain[-1] + step * (np.array([math.cos(angle), math.sin(angle)]) @ axes))
        sides = [0.1 * per_mm * np.array(way) for way in ((1, 0), (-1, 0), (0, 1), (0, -1))]
        if sum(seen(chain[0] + side) < 0 for side in sides) < 3:
            return
        if seen(chain[0]) != -1 or not any(seen(place) >= 0 for place in chain[1:]):
            return
        for row, col in np.ndindex(noted.shape):
            middle = np.array([col + 0.5, row + 0.5])
            for k, (one, two) in enumerate(itertools.pairwise(chain)):
                wide = wide_mm * per_mm * (1 - 0.5 * k / 5)
                run = two - one
                for off, dense, light in (((0, 0), 1, 1 + int(254 * chance[5])), (shadow[:2], shadow[2], 0)):
                    begin = one + off
                    along = min(max(float((middle - begin) @ run / (run @ run)), 0), 1)
                    away = math.dist(middle, begin + along * run)
                    share = dense * min(wide, 1) * min(max(max(wide, 1) / 2 + 0.5 - away, 0), 1)
                    if share > 0:
                        noted[row, col] = max(noted[row, col], int(share * 65535) * 256 + light)

    for v in range(cells[1], cells[3]):
        for u in range(cells[0], cells[2]):
            for n in range(int(per_mm2 + lattice(u, v, seed + 401))):
                fibre(u, v, n)
