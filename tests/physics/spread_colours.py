"""Colours spread in Lab inside what thread can show, kept in `colours.csv`.

`python tests/physics/spread_colours.py` writes the list. What thread can show is a rule about light
alone, so that the list knows nothing of the renderer: dyed thread throws back 1.2 to 75 % in every channel,
and always some light off its skin, so that its darkest channel has a twentieth of its brightest (estimates,
no source).
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from skimage.color import rgb2lab

LIST = Path(__file__).with_name("colours.csv")
COUNT, POOL, SEED = 200, 20_000, 20
LEAST, MOST, SHARE = 0.012, 0.75, 0.05


def main() -> None:
    """Farthest points of a random pool, from mid grey on, as 8-bit sRGB."""
    srgb = np.random.default_rng(SEED).integers(0, 256, (POOL, 3))
    part = srgb / 255.0
    light = np.where(part <= 0.04045, part / 12.92, ((part + 0.055) / 1.055) ** 2.4)
    low, high = light.min(1), light.max(1)
    srgb = srgb[(low >= np.maximum(LEAST, SHARE * high)) & (high <= MOST)]
    lab = rgb2lab(srgb[None] / 255.0)[0]
    chosen = [int(np.argmin(np.linalg.norm(lab - [55, 0, 0], axis=1)))]
    away = np.full(len(lab), np.inf)
    while len(chosen) < COUNT:
        away = np.minimum(away, np.linalg.norm(lab - lab[chosen[-1]], axis=1))
        chosen.append(int(np.argmax(away)))
    rows = [",".join(str(v) for v in srgb[i]) for i in chosen]
    LIST.write_text("\n".join(["red,green,blue", *rows]) + "\n", "utf-8")


if __name__ == "__main__":
    main()
