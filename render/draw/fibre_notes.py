"""What is noted of pixels that loose fibres cross, and how fibres lie over cloth and thread by it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.compiled import njit

if TYPE_CHECKING:
    from numpy.typing import NDArray

# Light of a fibre, of the cloth's in the mean: it stands in the open (estimate).
DARKEST, LIGHTEST = 0.75, 1.5
SHARES, LIGHTS = 65535, 255  # steps of what is noted of a pixel, in one number; light 0 is that of a shadow


@njit(cache=True, nogil=True)
def note_piece(
    noted: NDArray[np.int32],
    found: NDArray[np.int32],
    many: int,
    x: float,
    y: float,
    right: float,
    down: float,
    wide: float,
    dense: float,
    light: int,
) -> int:
    """A straight piece from (x, y) so far to the right and down, so many pixels wide, and so `dense`; one
    narrower than a pixel hides as much less. `many` pixels were `found` before; says how many are now."""
    rows, cols = noted.shape
    reach = 0.5 * max(wide, 1.0) + 0.5
    dense *= min(wide, 1.0)
    per_square = 1.0 / max(right * right + down * down, 1e-12)
    for r in range(max(int(min(y, y + down) - reach), 0), min(int(max(y, y + down) + reach) + 1, rows)):
        for c in range(max(int(min(x, x + right) - reach), 0), min(int(max(x, x + right) + reach) + 1, cols)):
            off_x, off_y = c + 0.5 - x, r + 0.5 - y
            along = min(max((off_x * right + off_y * down) * per_square, 0.0), 1.0)
            off_x, off_y = off_x - along * right, off_y - along * down
            square = off_x * off_x + off_y * off_y
            if square >= reach * reach:
                continue
            share = dense * min(reach - np.sqrt(square), 1.0)
            note, before = int(share * SHARES) * (LIGHTS + 1) + light, noted[r, c]
            if note > before:
                noted[r, c] = note
                found[many] = r * cols + c
                many += before == 0
    return many


@njit(cache=True, nogil=True, inline="always")
def share_and_light(noted: int) -> tuple[float, float]:
    """Share of a pixel that a fibre hides, and its light, of the cloth's in the mean."""
    step = noted % (LIGHTS + 1)
    light = DARKEST + (LIGHTEST - DARKEST) / LIGHTS * step if step > 0 else 0.0
    return noted // (LIGHTS + 1) / SHARES, light


@njit(cache=True, nogil=True)
def lie_on_cloth(
    noted: NDArray[np.int32],
    found: NDArray[np.int32],
    covered: NDArray[np.float32],
    mean_linear: NDArray[np.float64],
    cloth: NDArray[np.float32],
) -> None:
    """Let fibres lie on the cloth in the pixels `found`. Where nothing but thread shows, none need be laid:
    its mean is put there, as what lies over thread is seen in."""
    cols, pixels = noted.shape[1], noted.ravel()
    for at in found:
        r, c = at // cols, at % cols
        share, light = share_and_light(pixels[at])
        for k in range(3):
            if covered[r, c] == 1.0:
                cloth[r, c, k] = mean_linear[k]
            else:
                cloth[r, c, k] += share * (light * mean_linear[k] - cloth[r, c, k])


@njit(cache=True, nogil=True)
def lie_on_thread(
    noted: NDArray[np.int32],
    found: NDArray[np.int32],
    thread: NDArray[np.float32],
    cloth_share: NDArray[np.float32],
    covered: NDArray[np.float32],
) -> None:
    """Let fibres in the pixels `found` hide thread (rows, cols, K, 3), of which cloth's light is seen
    instead; what lies in their shadow covers as much as before."""
    cols, pixels = noted.shape[1], noted.ravel()
    for at in found:
        r, c = at // cols, at % cols
        share, light = share_and_light(pixels[at])
        if light > 0.0:
            cloth_share[r, c] += covered[r, c] * share * light
            covered[r, c] *= 1.0 - share
        thread[r, c] *= np.float32(1.0 - share)
