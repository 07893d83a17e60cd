"""How far the renderer's pictures of the three scenes are from the traced ones:
`python -m tests.reference.pairs FOLDER` prints the numbers and draws the pairs there (docs).
"""

from __future__ import annotations

import sys
import warnings
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

sys.path.insert(0, str(Path(__file__).parents[1]))
from golden.compare import flip_map, worst_window
from reference import scenes

from render.compose.encoding import encode

# Of the traced thread's dye a channel, found by least squares on the sheen curves of a satin patch: the
# scenes themselves were not fitted to.
ALBEDO = (0.565, 0.285, 0.048)


@dataclass(frozen=True)
class Distance:
    """FLIP over the picture and over its worst 16 px window, CIEDE2000 of the mean colours, and SSIM."""

    flip: float
    worst: float
    colour: float
    ssim: float


def distance(one: NDArray[np.uint8], other: NDArray[np.uint8]) -> Distance:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of a plotting library that is not there
        import colour
    from skimage.metrics import structural_similarity

    far = flip_map(one, other)
    lab = [
        colour.XYZ_to_Lab(colour.sRGB_to_XYZ(scenes.light_of(p).mean((0, 1)), apply_cctf_decoding=False))
        for p in (one, other)
    ]
    return Distance(
        float(far.mean()),
        worst_window(far),
        float(colour.delta_E(*lab, method="CIE 2000")),
        float(structural_similarity(one, other, channel_axis=2)),
    )


def traced_pair(name: str) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
    """The kept pictures of two seeds."""
    first, second = (np.asarray(Image.open(scenes.HERE / f"{name}-{seed}.png")) for seed in scenes.SEEDS)
    return first, second


def both(pair: tuple[NDArray[np.uint8], NDArray[np.uint8]]) -> NDArray[np.uint8]:
    """The mean of two pictures, in light."""
    return encode(((scenes.light_of(pair[0]) + scenes.light_of(pair[1])) / 2).astype(np.float32))


def main(folder: Path) -> None:
    print("| scene | | mean FLIP | worst 16 px | CIEDE2000 | SSIM |\n|---|---|---|---|---|---|")
    rows = []
    for name in scenes.SCENES:
        strands, stack, turn = scenes.kept(name)
        drawn = scenes.seen(scenes.drawn(strands, scenes.filled(strands, stack, turn), ALBEDO))
        pair = traced_pair(name)
        for what, far in (("two seeds", distance(*pair)), ("drawn", distance(drawn, both(pair)))):
            numbers = f"{far.flip:.3f} | {far.worst:.3f} | {far.colour:.2f} | {far.ssim:.2f}"
            print(f"| {name} | {what} | {numbers} |")
        far_map = np.rint(np.clip(flip_map(drawn, both(pair)) * 255, 0, 255)).astype(np.uint8)
        rows.append(np.concatenate([drawn, both(pair), np.repeat(far_map[..., None], 3, 2)], 1))
    sheet = np.concatenate(rows)
    Image.fromarray(sheet.repeat(2, 0).repeat(2, 1)).save(folder / "optics-pairs.png", optimize=True)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
