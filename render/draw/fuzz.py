"""Loose fibre ends that stand off spun thread, cotton and wool: strands of their own, a fibre thick."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from render.draw.cords import snap
from render.draw.grain import hash_unit
from render.draw.strands import Strands

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

HAIRS_PER_MM = 2.5  # of a thread with fuzz 1 (estimate)
FIBRE_MM = 0.012  # across, from memory: cotton and fine wool lie between 0.010 and 0.025
LENGTH_MM = (0.3, 1.3)  # by which fibre ends stand off (estimate)
LEANS_RAD = (0.35, 1.4)  # from the thread's own direction (estimate)
BENDS_RAD = 2.6  # along the whole hair, either way, at most (estimate)
PIECES = 4  # straight pieces of a hair
TIP = 0.4  # of its width, that of its last piece (estimate)
HAIR = -2  # as the stitch of a hair


def with_fuzz(strands: Strands, fuzz: Sequence[float], seed: int, *, hand: float = 1.0) -> Strands:
    """The strands with the hairs of each landing right after it; `fuzz` in [0, 1] by thread.

    `hand` -1 puts every hair to the other side, as a mirror does.
    """
    if not any(fuzz):
        return strands
    share = np.array([*fuzz, 0.0])[strands.thread]
    laid = strands.unmoved()
    run = laid.end_mm - laid.start_mm
    length = np.hypot(*run.T)
    chance = hash_unit(strands.grain.astype(np.int64), seed + 707)
    count = np.where(length > 0.2, share * length * HAIRS_PER_MM + chance, 0.0).astype(int)
    count[share == 0.0] = 0
    if not count.any():
        return strands
    owner = np.repeat(np.arange(len(count)), count)
    number = np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count)
    # Other fibre, other hairs, where the stitches are the same.
    kind = np.rint(100 * share[owner]).astype(np.int64)
    word = (strands.grain[owner].astype(np.int64) + 7919 * number + 104729 * kind) & 0x7FFFFFFF
    random = [hash_unit(word, seed + 808 + k) for k in range(6)]
    path = _paths(laid, owner, (run / np.maximum(length, 1e-9)[:, None])[owner], random, hand)
    carried = np.zeros((len(owner), 2))
    if strands.carried_mm is not None:
        before, after = strands.carried_mm[owner, 0], strands.carried_mm[owner, 1]
        carried = snap(before + (after - before) * random[0][:, None])
    return _merged(strands, owner, number, path, carried, hash_unit(word, seed + 909))


def _paths(
    strands: Strands,
    owner: NDArray[np.int64],
    along: NDArray[np.float64],
    random: list[NDArray[np.float64]],
    hand: float,
) -> NDArray[np.float64]:
    """Corners (H, PIECES + 1, 2) of every hair of laid strands, from the thread's side outward."""
    place, way, out, lean, long, bend = random
    side = np.stack([-along[:, 1], along[:, 0]], 1) * hand
    to_side = np.where(way < 0.5, -1.0, 1.0)
    root = strands.start_mm[owner] + (strands.end_mm - strands.start_mm)[owner] * place[:, None]
    root = root + side * (to_side * out * 0.9 * strands.half_width_mm[owner])[:, None]
    forward = np.where((way * 64) % 1 < 0.5, -1.0, 1.0)
    step = (LENGTH_MM[0] + (LENGTH_MM[1] - LENGTH_MM[0]) * long**2) / PIECES
    corners = [root]
    for piece in range(PIECES):
        angle = (
            LEANS_RAD[0] + (LEANS_RAD[1] - LEANS_RAD[0]) * lean + BENDS_RAD * (2 * bend - 1) * piece / PIECES
        )
        go = along * (forward * np.cos(angle))[:, None] + side * (to_side * np.sin(angle))[:, None]
        corners.append(corners[-1] + go * step[:, None])
    return np.asarray(snap(np.stack(corners, 1)))


def _merged(
    strands: Strands,
    owner: NDArray[np.int64],
    number: NDArray[np.int64],
    path: NDArray[np.float64],
    carried: NDArray[np.float64],
    word: NDArray[np.float64],
) -> Strands:
    """Strands and hairs in the order they land; each hair is `carried` (H, 2) whole."""
    n = len(owner) * PIECES
    seen = path + carried[:, None]
    start, end = seen[:, :-1].reshape(-1, 2), seen[:, 1:].reshape(-1, 2)
    step = np.hypot(*(path[:, 1] - path[:, 0]).T)
    half_mm = np.tile(FIBRE_MM / 2 * np.linspace(1.0, TIP, PIECES), len(owner))
    added = {
        "start_mm": start,
        "end_mm": end,
        "half_width_mm": half_mm,
        "half_height_mm": half_mm,
        "thread": np.repeat(strands.thread[owner], PIECES),
        "along_mm": (step[:, None] * np.arange(PIECES)).ravel(),
        "dives": np.zeros((n, 2), bool),
        "arch_mm": np.zeros(n),
        "grain": np.repeat((word * 2.0**32).astype(np.uint32), PIECES),
        "stitch": np.full(n, HAIR, np.int32),
        "piece": np.full(n, -1, np.int32),
        "twist_per_mm": np.repeat(strands.twist_per_mm[owner], PIECES),
    }
    lands = (owner + (number + 1.0) / (number.max() + 2.0)).repeat(PIECES)
    if strands.carried_mm is not None:
        added["carried_mm"] = np.tile(carried.repeat(PIECES, axis=0)[:, None], (1, 2, 1))
    if strands.bow_mm is not None:
        added["bow_mm"] = np.zeros(n)
    order = np.argsort(np.concatenate([np.arange(len(strands.thread)), lands]), kind="stable")
    both = {key: np.concatenate([getattr(strands, key), value])[order] for key, value in added.items()}
    return replace(strands, **both)  # type: ignore[arg-type]
