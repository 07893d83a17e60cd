"""Photographs of blank garments, made up by the tests."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image


def blank(rows: int = 360, cols: int = 480, level: float = 0.55) -> NDArray[np.uint8]:
    """Grey cloth, lighter to the upper left, with a dark edge across it."""
    y, x = np.mgrid[:rows, :cols]
    plane = level * (1.0 - 0.25 * (x / cols + y / rows - 1.0))
    plane = np.where(abs(x - 0.9 * cols) < 6, 0.1, plane)
    return np.uint8(np.clip(plane, 0, 1)[..., None].repeat(3, 2) * 255)


def saved(tmp_path: Path, image: Image.Image, name: str, **options: object) -> str:
    path = tmp_path / name
    image.save(path, **options)
    return str(path)
