"""The example designs as their generator sewed them, as their files hold them, and what is true of them."""

from __future__ import annotations

import importlib.util
import json
from functools import cache
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from render.model import Command
from render.read import read_design

EXAMPLES = Path(__file__).parents[1] / "examples"


@cache
def maker() -> ModuleType:
    spec = importlib.util.spec_from_file_location("examples_make", EXAMPLES / "make.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@cache
def needle_points_mm(name: str) -> NDArray[np.float64]:
    """What the generator sewed, before any format."""
    module = maker()
    if name == "crest-faulty":
        return np.asarray(module.crest_faulty().sewing.needle_points_mm())
    return np.asarray(module.DESIGNS[name]().needle_points_mm())


@cache
def truth(name: str) -> dict[str, Any]:
    return dict(json.loads((EXAMPLES / f"{name}.truth.json").read_text("utf-8")))


def stitch_ends_mm(name: str) -> list[tuple[NDArray[np.float64], NDArray[np.float64]]]:
    """Start and end of each stitch of the PES, with jumps, cuts and changes left out."""
    design = read_design(str(EXAMPLES / f"{name}.pes"))
    ends, here = [], None
    for xy, command in zip(design.xy_mm, design.command, strict=True):
        if command == Command.STITCH:
            if here is not None and np.hypot(*(xy - here)) > 0.05:
                ends.append((here, xy))
            here = xy
        else:
            here = None
    return ends
