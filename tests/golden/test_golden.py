"""Pictures stay as they were looked at and found good.

When the look changes on purpose, look at the new pictures and keep them:
python -m tests.golden.renew
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from golden import compare, scenes
from numpy.typing import NDArray
from PIL import Image

PICTURES = Path(__file__).parent / "pictures"
FAILED = Path(__file__).parent / "failed"


def _kept(name: str) -> NDArray[np.uint8]:
    with Image.open(PICTURES / f"{name}.png") as picture:
        return np.asarray(picture)


def _keep_evidence(
    name: str, ours: NDArray[np.uint8], kept: NDArray[np.uint8], difference: NDArray[np.float32]
) -> None:
    FAILED.mkdir(exist_ok=True)
    Image.fromarray(ours).save(FAILED / f"{name}-ours.png")
    Image.fromarray(kept).save(FAILED / f"{name}-kept.png")
    Image.fromarray(np.uint8(255 * np.clip(difference, 0, 1))).save(FAILED / f"{name}-difference.png")


@pytest.mark.parametrize("name", sorted(scenes.SCENES))
def test_picture_is_as_it_was(name: str) -> None:
    ours, kept = scenes.SCENES[name](), _kept(name)
    difference = compare.flip_map(ours, kept)
    worst = compare.worst_window(difference)
    if worst > compare.MOST:
        _keep_evidence(name, ours, kept, difference)
    assert worst <= compare.MOST, f"see {FAILED}; if it is meant: python -m tests.golden.renew"


@pytest.mark.parametrize("stitch", [20, 33])
def test_one_missing_stitch_is_noticed(stitch: int) -> None:
    """While the mean over the picture hardly moves, and though its neighbours spread into its place."""
    difference = compare.flip_map(scenes.satin_curve(left_out=stitch), _kept("satin-curve"))
    assert compare.worst_window(difference) > 1.4 * compare.MOST
    assert difference.mean() < compare.MOST


def test_another_size_or_mode_is_refused() -> None:
    kept = _kept("satin-curve")
    for ours in (kept[:-1], kept[:, :-1], np.dstack([kept, kept[..., :1]])):
        with pytest.raises(AssertionError, match="size or mode"):
            compare.flip_map(np.ascontiguousarray(ours), kept)


def test_the_worst_window_is_found() -> None:
    flat = np.zeros((40, 50), np.float32)
    flat[24:40, 34:50] = 0.5
    assert compare.worst_window(flat) == pytest.approx(0.5)
    flat[24:40, 42:50] = 0
    assert compare.worst_window(flat) == pytest.approx(0.25)
