"""The upper body that shirts and hoodies hang on, cropped about the wearer's left chest."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.scene.form import crease, waves

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Floats

CHEST_MM = 290.0  # radius of the chest, seen from above (estimate)
# Start, end, width, share of the largest's height, and bow of each fold, mm (by eye).
FOLDS = (
    ((150.0, -140.0), (20.0, 190.0), 13.0, 1.0, 24.0),
    ((190.0, -60.0), (60.0, 230.0), 16.0, 1.2, 30.0),
    ((-40.0, -90.0), (-120.0, 220.0), 15.0, 0.6, -16.0),
    ((-170.0, -90.0), (-60.0, 230.0), 17.0, 0.8, -20.0),
    ((150.0, 160.0), (-90.0, 90.0), 15.0, 0.7, -18.0),
    ((-210.0, 190.0), (20.0, 120.0), 17.0, 0.7, 16.0),
)
NECK_MM = (-88.0, -176.0)  # middle of the neck's base from the middle of the design


def chest(x: Floats, y: Floats, *, folds_mm: float, seed: int) -> NDArray[np.float64]:
    """Height of loose cloth on the chest; the middle of the design lies at the origin.

    `folds_mm` is how high the largest folds stand. They run from shoulder and arm and leave the
    design all but flat, as whoever takes the picture sees to it.
    """
    middle = NECK_MM[0]
    z = np.sqrt(np.maximum(CHEST_MM**2 - 0.8 * (x - middle) ** 2, 1.0)) - CHEST_MM
    z = z - 0.00035 * np.maximum(-(y + 60.0), 0.0) ** 2 - 0.00012 * (y - 20.0) ** 2
    quiet = 1.0 - 0.82 * np.exp(-(((x / 66.0) ** 2 + (y / 62.0) ** 2) ** 2))
    folds = waves(x, y, length_mm=95.0, height_mm=0.22 * folds_mm, seed=seed)
    for start, end, width, share, bow in FOLDS:
        folds += crease(
            x, y, start_mm=start, end_mm=end, width_mm=width, height_mm=share * folds_mm, bow_mm=bow
        )
    return z + quiet * folds
