"""Slow, plain twins of the sewing stage."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray


def shape_values(node: int, weights: Any, cols: int) -> dict[int, float]:
    """Weight of each node about a point of a grid, by those of its columns and of its rows."""
    across, down = weights
    return {
        node + row * cols + col: float(a * b) for row, b in enumerate(down) for col, a in enumerate(across)
    }


def line_weights(line: Any, value: float, wide: float) -> NDArray[np.float64]:
    """Linear shape functions (L,) of lines, averaged over a stretch by adding up many points of it."""
    samples = value + wide * ((np.arange(20000) + 0.5) / 20000 - 0.5)
    inside = np.clip(samples, max(line[0], value - wide / 2), min(line[-1], value + wide / 2))
    inside = inside[inside == samples]
    own = np.eye(len(line))
    return np.array([np.interp(inside, line, own[k]).mean() for k in range(len(line))])


def stitch_vector(
    ends: Sequence[Any], direction: Sequence[float], cols: int, nodes: int
) -> NDArray[np.float64]:
    """b (2 nodes,) of one stitch: its contraction is b . u, its force on the nodes b T.

    `ends` are two pairs of node and weights.
    """
    b = np.zeros((nodes, 2))
    for sign, (node, weights) in zip((1.0, -1.0), ends, strict=True):
        for n, weight in shape_values(node, weights, cols).items():
            b[n] += sign * weight * np.asarray(direction)
    return b.ravel()


def normal_lengths(
    node: NDArray[Any],
    weights: NDArray[Any],
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
        for n, weight in shape_values(int(node[p]), weights[p], cols).items():
            out[n] += weight * length[s] / samples * np.array([square[0, 0], square[1, 1], square[0, 1]])
    return out


def answer_by_offsets(loads: NDArray[Any], table: NDArray[Any]) -> NDArray[np.float64]:
    """Movement (G, R * C, D) of a window under loads (G, R, C, 2): every node asks every other."""
    groups, rows, cols = loads.shape[:3]
    out = np.zeros((rows, cols, groups, table.shape[3]))
    for r in range(rows):
        for c in range(cols):
            for row in range(rows):
                for col in range(cols):
                    answer = table[:, r - row + rows - 1, c - col + cols - 1]
                    out[r, c] += loads[:, row, col] @ answer
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


def spot_humps(
    lines: Sequence[Sequence[float]], point: Sequence[float], wide: float, samples: int = 4000
) -> dict[tuple[int, int, int], float]:
    """What a spot so wide about a point feels of movement within cells, by (axis, column, row).

    Along the axis a parabola of height one over the cell; aside the mean over points of the spot.
    """
    felt: dict[tuple[int, int, int], float] = {}
    for axis, (along, aside) in enumerate((lines, lines[::-1])):
        cell = max(k for k in range(len(along) - 1) if along[k] <= point[axis])
        a = (point[axis] - along[cell]) / (along[cell + 1] - along[cell])
        for k in range(samples):
            there = point[1 - axis] + wide * ((k + 0.5) / samples - 0.5)
            beside = max(n for n in range(len(aside) - 1) if aside[n] <= there)
            key = (0, cell, beside) if axis == 0 else (1, beside, cell)
            felt[key] = felt.get(key, 0.0) + (1 - (2 * a - 1) ** 2) / samples
    return felt
