"""How each kind of fault is planted, at any size; one module a family, which its `FAULTS` lists."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from planting.scenes import Scene
from render.modules import modules_in

Maker = Callable[[np.random.Generator, float], Scene]
# Kind -> maker, the limit on twill (None without a size), and whether smaller is worse.
Faults = dict[str, tuple[Maker, float | None, bool]]
CENTRE = (14.0, 0.0)  # of the fault, to the right of what keeps it company


def faults() -> Faults:
    """All faults that are planted."""
    return {kind: how for module in modules_in(__name__) for kind, how in module.FAULTS.items()}
