"""Sewn designs kept on disk between runs: cloth held alike draws together alike, in whatever colours."""

from __future__ import annotations

import hashlib
from dataclasses import asdict, astuple, fields, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import numba
import numpy as np
import scipy

from render.disk_cache import code_of, kept
from render.model import ClothMove, ClothRest, ObjectMove, Sewn
from render.sew import sew

if TYPE_CHECKING:
    from render.disk_cache import Arrays
    from render.model import Holding, SewPlan


def cached_sew(plan: SewPlan, holding: Holding | None, *, keep_rests: bool = False) -> Sewn:
    """What `sew` gives, from disk if an equal plan was sewn on cloth held alike before.

    Raises what `sew` raises.
    """
    if holding is None or not len(plan.start_mm):
        return sew(plan, holding)
    # What only looks is left out here, so that it cannot matter.
    bare = replace(
        holding, fabric=replace(holding.fabric, colour_srgb=(0, 0, 0), structure={}, folder="", bed_mm=0.0)
    )

    def make() -> Arrays:
        return _arrays(sew(plan, bare, keep_rests=keep_rests))

    made_from = [_name_of(plan), asdict(bare), keep_rests]
    package = Path(__file__).parents[1]
    code = code_of(
        *(str(path) for part in ("model", "sew") for path in sorted((package / part).glob("*.py")))
    )
    made_by = f"{code} numba {numba.__version__} numpy {np.__version__} scipy {scipy.__version__}"
    return _sewn(plan, kept("sewn", made_from, made_by=made_by, make=make, fits=partial(_fits, plan)))


def _name_of(plan: SewPlan) -> str:
    """A name for all that a plan says."""
    told = hashlib.blake2b(digest_size=16)
    for field in fields(plan):
        value = getattr(plan, field.name)
        if isinstance(value, np.ndarray):
            told.update(f"{value.dtype} {value.shape}".encode())
            told.update(np.ascontiguousarray(value).data)
        else:
            told.update(repr(value).encode())
    return told.hexdigest()


def _arrays(sewn: Sewn) -> Arrays:
    cloth = sewn.cloth
    assert cloth is not None
    assert sewn.give_mm is not None
    moves = [rest.move for rest in sewn.rests]
    return {
        "start_mm": sewn.start_mm,
        "end_mm": sewn.end_mm,
        "give_mm": sewn.give_mm,
        "notes": np.array(sewn.notes, np.str_),
        "objects": np.array([(*astuple(one)[:4], *one.shift_mm) for one in sewn.objects]).reshape(-1, 6),
        "grid": np.array([*cloth.origin_mm, cloth.cell_mm, cloth.bending_n_mm]),
        "u_mm": np.stack([cloth.u_mm, *(move.u_mm for move in moves)]),
        "pucker": np.stack([cloth.pucker, *(move.pucker for move in moves)]),
        "stitches": np.array([rest.stitches for rest in sewn.rests], np.int64),
    }


def _sewn(plan: SewPlan, arrays: Arrays) -> Sewn:
    left, top, cell_mm, bending_n_mm = arrays["grid"].tolist()
    cloth, *moves = (
        ClothMove(u_mm=u_mm, pucker=pucker, origin_mm=(left, top), cell_mm=cell_mm, bending_n_mm=bending_n_mm)
        for u_mm, pucker in zip(arrays["u_mm"], arrays["pucker"], strict=True)
    )
    return Sewn(
        plan=plan,
        start_mm=arrays["start_mm"],
        end_mm=arrays["end_mm"],
        notes=tuple(arrays["notes"].tolist()),
        cloth=cloth,
        objects=tuple(
            ObjectMove(index=int(i), programmed_width_mm=a, sewn_width_mm=b, push_mm=push, shift_mm=(x, y))
            for i, a, b, push, x, y in arrays["objects"].tolist()
        ),
        give_mm=arrays["give_mm"],
        rests=tuple(ClothRest(n, move) for n, move in zip(arrays["stitches"].tolist(), moves, strict=True)),
    )


def _fits(plan: SewPlan, arrays: Arrays) -> bool:
    """Whether names, shapes, types and numbers are those of this plan, sewn."""
    names = ("start_mm", "end_mm", "give_mm", "notes", "objects", "grid", "u_mm", "pucker", "stitches")
    if set(arrays) != set(names) or arrays["pucker"].ndim != 3 or arrays["notes"].dtype.kind != "U":
        return False
    count, pucker, rests = len(plan.start_mm), arrays["pucker"].shape, arrays["stitches"].shape
    wanted: tuple[tuple[str, tuple[int, ...], str], ...] = (
        ("start_mm", (count, 2), "f8"),
        ("end_mm", (count, 2), "f8"),
        ("give_mm", (count, 2, 2), "f8"),
        ("objects", (len(plan.objects), 6), "f8"),
        ("grid", (4,), "f8"),
        ("u_mm", (*pucker, 2), "f8"),
        ("pucker", (1 + sum(rests), *pucker[1:]), "u1"),
        ("stitches", rests[:1], "i8"),
    )
    return (
        all(arrays[name].shape == shape and arrays[name].dtype == kind for name, shape, kind in wanted)
        and all(np.isfinite(arrays[name]).all() for name in ("start_mm", "end_mm", "give_mm", "grid", "u_mm"))
        and arrays["notes"].ndim == 1
    )
