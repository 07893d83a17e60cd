"""What the screen proof shows, drawn: the whole at 12 px/mm, close-ups at 40, up to three choices of each."""

from __future__ import annotations

import base64
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.ndimage import uniform_filter

from render.model import CLOTH, Window
from render.proof import relightable
from render.proof.web_light import moving_lamp
from render.proof.web_pictures import screen_picture

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from render.proof import Proof
    from render.proof.web_light import MovingLamp
    from render.proof.web_pictures import ScreenPicture

MOST_BYTES = 5_000_000  # of the whole file
REST_BYTES = 300_000  # of it for everything but the pictures, with room
MOST_CHOICES = 3
WHOLE_PIXELS = 2_400_000  # 130 mm square at 12 px/mm; larger pieces are drawn less finely
NEAR_PX_PER_MM, NEAR_MM = 40.0, 9.6
NEAR_PLACES, APART_MM = 3, 16.0
EDGES_MM = 3.0  # how far around a place its edges between colours count
SCALES = (1.0, 0.85, 0.7, 0.55, 0.4)  # of the pictures, until the file is small enough
BASE64 = 4 / 3


@dataclass(frozen=True, slots=True, eq=False)
class Choice:
    """One cloth and set of threads: its lamp, the whole picture, and close-ups with their place in it, mm
    from its upper left corner."""

    lamp: MovingLamp
    main: ScreenPicture
    near: tuple[ScreenPicture, ...]

    def as_json(self) -> dict[str, Any]:
        """What the page's script needs of it, but for the pictures."""
        lamp, window = self.lamp, self.main.window
        return {
            "size": [window.rows, window.cols],
            "near": [_place(one.window, window) for one in self.near],
            "lamp": {
                "size_deg": lamp.size_deg,
                "irradiance": lamp.irradiance,
                "colour_linear": list(lamp.colour_linear),
                "still_card": lamp.still_card.tolist(),
                "white_balance": lamp.white_balance,
                "dye": np.round(lamp.dye, 6).tolist(),
                "kind": lamp.kind.tolist(),
                "kinds": len(lamp.shape),
                "shape": lamp.shape.tolist(),
                "scale": base64.b64encode(lamp.scale.astype("<f4").tobytes()).decode("ascii"),
            },
        }

    @property
    def size(self) -> float:
        """Bytes in the page."""
        return BASE64 * sum(len(data) for one in (self.main, *self.near) for data in one.files.values())


def draw_choices(proofs: Sequence[Proof]) -> list[Choice]:
    """Draw all choices so that they fit into one file: the first as finely as can be."""
    room = MOST_BYTES - REST_BYTES
    for scale in SCALES:
        first = _draw(proofs[0], _px_per_mm(proofs[0]) * scale, near=True)
        others = proofs[1:MOST_CHOICES]
        left = (room - first.size) / max(len(others), 1)
        whole = BASE64 * sum(map(len, first.main.files.values()))
        if left < (0.15 * whole if others else 0):
            continue
        finer = min(1.0, (0.85 * left / whole) ** 0.5)
        choices = [first]
        choices += [_draw(one, first.main.window.px_per_mm * finer, near=False) for one in others]
        if sum(choice.size for choice in choices) <= room:
            return choices
    return choices


def _px_per_mm(proof: Proof) -> float:
    window = proof.window
    area_mm2 = window.rows * window.cols / window.px_per_mm**2
    return float(min(window.px_per_mm, (WHOLE_PIXELS / area_mm2) ** 0.5))


def _draw(proof: Proof, px_per_mm: float, *, near: bool) -> Choice:
    lamp = moving_lamp(proof.job.light, proof.ready.threads)
    window, whole = proof.window, proof.drawn
    if whole is None or px_per_mm < window.px_per_mm:
        window = _scaled(window, px_per_mm)
        (whole,) = relightable(proof.ready, proof.job, [window])
    stitches = proof.account.stitches
    with ThreadPoolExecutor(1) as beside:  # the whole is packed while close-ups are drawn
        main = beside.submit(screen_picture, whole, window, lamp, stitches)
        places = near_windows(whole.planes.block, window) if near else []
        close = relightable(proof.ready, proof.job, places) if places else []
        pictures = [screen_picture(one, at, lamp, stitches) for one, at in zip(close, places, strict=True)]
        return Choice(lamp, main.result(), tuple(pictures))


def _scaled(window: Window, px_per_mm: float) -> Window:
    share = px_per_mm / window.px_per_mm
    return Window(window.centre_mm, px_per_mm, round(window.rows * share), round(window.cols * share))


def near_windows(block: NDArray[np.int32], window: Window) -> list[Window]:
    """Where most edges between colours meet: up to three places worth a closer look, the best first."""
    scale = window.px_per_mm
    edges = np.zeros(block.shape, np.float32)
    edges[:, 1:] += block[:, 1:] != block[:, :-1]
    edges[1:] += block[1:] != block[:-1]
    busy = uniform_filter(edges, round(EDGES_MM * scale)) * (
        uniform_filter((block != CLOTH) * 1.0, round(NEAR_MM * scale)) > 0.3
    )
    half = NEAR_MM * scale / 2
    rows, cols = np.ogrid[: block.shape[0], : block.shape[1]]
    inside = (
        (rows >= half) & (rows <= block.shape[0] - half) & (cols >= half) & (cols <= block.shape[1] - half)
    )
    busy = np.where(inside, busy, 0.0)
    side = round(NEAR_MM * NEAR_PX_PER_MM)
    found: list[Window] = []
    while len(found) < NEAR_PLACES and busy.max(initial=0.0) > 0:
        row, col = np.unravel_index(int(busy.argmax()), busy.shape)
        x = window.centre_mm[0] + (col + 0.5 - block.shape[1] / 2) / scale
        y = window.centre_mm[1] + (row + 0.5 - block.shape[0] / 2) / scale
        found.append(Window((float(x), float(y)), NEAR_PX_PER_MM, side, side))
        busy = np.where(np.hypot(rows - row, cols - col) < APART_MM * scale, 0.0, busy)
    return found


def _place(near: Window, whole: Window) -> dict[str, Any]:
    """Where a close-up lies in the whole picture, mm from its upper left corner."""
    size_mm = near.cols / near.px_per_mm
    left = near.centre_mm[0] - whole.centre_mm[0] + whole.cols / whole.px_per_mm / 2 - size_mm / 2
    top = near.centre_mm[1] - whole.centre_mm[1] + whole.rows / whole.px_per_mm / 2 - size_mm / 2
    return {
        "left_mm": round(left, 4),
        "top_mm": round(top, 4),
        "size_mm": size_mm,
        "rows": near.rows,
        "cols": near.cols,
    }
