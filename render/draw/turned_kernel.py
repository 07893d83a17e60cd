"""Light on thread that is turned with its cloth, in linear light, white card = 1."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.compiled import njit
from render.draw.dye import tinted
from render.draw.lobes import dyed, lobe_weights, norms_towards
from render.draw.sheen import AZIMUTH_STEPS, COLUMNS
from render.draw.surface import AZIMUTH_UNIT, LAST, THREAD, thread_surface

if TYPE_CHECKING:
    from numpy.typing import NDArray

FRAME = 14  # numbers at each point of the surface
UP_AZIMUTHS = 16  # the dome's share is tabulated by these, and by tilt and roll in degrees
UP_TILTS = np.linspace(-60.0, 60.0, 9)
UP_ROLLS = np.linspace(-75.0, 75.0, 5)
TO_RADIANS = 2.0 * np.pi / (AZIMUTH_STEPS * AZIMUTH_UNIT)


@njit(cache=True, nogil=True)
def shade_turned(
    strand: NDArray[np.int32],
    along: NDArray[np.float32],
    across: NDArray[np.float32],
    lit: NDArray[np.float32],
    sky: NDArray[np.float32],
    numbers: NDArray[np.float32],
    wholes: NDArray[np.int32],
    profile: NDArray[np.float32],
    texture: NDArray[np.int32],
    dyes: NDArray[np.float32],
    kind: NDArray[np.int64],
    shapes: NDArray[np.float64],
    norms: NDArray[np.float64],
    upward: NDArray[np.float64],
    lamps: NDArray[np.float64],
    dome: NDArray[np.float64],
    frame: NDArray[np.float32],
    place: NDArray[np.float64],
    key_share: float,
    supersample: int,
    stride: int,
    thread_linear: NDArray[np.float32],
    cloth_share: NDArray[np.float32],
    covered: NDArray[np.float32],
) -> None:
    """As `shade`, for several sets of dyes (K, T, 6) at once, on the surface `frame`.

    All sub-pixels of a pixel on one strand are shaded together, in their middle. `place` is (x, y)
    of the first pixel and the step between pixels, in points of the frame. With a `stride` over 1,
    where there are no sub-pixels, pixels of so large a square that show one thread share its light.
    Fills in `thread_linear (rows, cols, K, 3)`, the share of the cloth's light that is seen, and the
    share that is thread.
    """
    rows, cols = covered.shape
    of_strands, filaments = (numbers.ravel(), wholes.ravel(), profile.ravel()), texture.ravel()
    share = 1.0 / (supersample * supersample)
    here = np.empty(FRAME)
    names = np.empty(supersample * supersample, np.int64)
    sums = np.empty((supersample * supersample, 5))
    gains = np.empty(COLUMNS)
    for row in range(rows):
        for col in range(cols):
            thread_linear[row, col] = 0.0
            count, seen, lit_cloth = _gather(
                strand, along, across, lit, sky, row, col, supersample, key_share, names, sums
            )
            covered[row, col] = 1.0 - seen
            cloth_share[row, col] = lit_cloth
            if count == 0:
                continue
            if stride > 1 and _shared(strand, wholes, row, col, stride, dyes, thread_linear):
                continue
            _frame_at(frame, place[0] + col * place[2], place[1] + row * place[2], here)
            for at in range(count):
                i, many = names[at], sums[at, 4]
                v = min(max(sums[at, 1] / many, -0.999), 0.999)
                thread, u = wholes[i, THREAD], np.uintp(i)
                surface = thread_surface(
                    u,
                    np.float32(sums[at, 0] / many * numbers[u, LAST]),
                    np.float32(v),
                    *of_strands,
                    dyes[0, thread, 4],
                    dyes[0, thread, 5],
                    filaments,
                )
                k = kind[thread]
                turn, tilt, roll = surface[0] * TO_RADIANS, surface[1], surface[2]
                _lobe_gains(turn, tilt, roll, here, shapes[k], norms[k], upward[k], lamps, dome, gains)
                key, open_sky = sums[at, 2] / many, sums[at, 3] / many
                _add_light(surface, gains, dyes, thread, key, open_sky, many, share, thread_linear[row, col])


@njit(cache=True, nogil=True)
def _gather(
    strand: NDArray[np.int32],
    along: NDArray[np.float32],
    across: NDArray[np.float32],
    lit: NDArray[np.float32],
    sky: NDArray[np.float32],
    row: int,
    col: int,
    supersample: int,
    key_share: float,
    names: NDArray[np.int64],
    sums: NDArray[np.float64],
) -> tuple[int, float, float]:
    """Fill in the strands of a pixel's sub-pixels, their `names` and of each the `sums` of its places along
    and across, of the light that reaches it, and how many there are. Gives how many strands, the share of
    cloth, and the light of that."""
    share = 1.0 / (supersample * supersample)
    seen = lit_cloth = 0.0
    count = 0
    for r in range(row * supersample, (row + 1) * supersample):
        for c in range(col * supersample, (col + 1) * supersample):
            i = strand[r, c]
            if i < 0:
                seen += share
                lit_cloth += share * (key_share * lit[r, c] + (1.0 - key_share) * sky[r, c])
                continue
            at = 0
            while at < count and names[at] != i:
                at += 1
            if at == count:
                names[at] = i
                sums[at] = 0.0
                count += 1
            sums[at, 0] += along[r, c]
            sums[at, 1] += across[r, c]
            sums[at, 2] += lit[r, c]
            sums[at, 3] += sky[r, c]
            sums[at, 4] += 1.0
    return count, seen, lit_cloth


@njit(cache=True, nogil=True)
def _add_light(
    surface: tuple[float, float, float, float, float, float],
    gains: NDArray[np.float64],
    dyes: NDArray[np.float32],
    thread: int,
    key: float,
    open_sky: float,
    many: float,
    share: float,
    out: NDArray[np.float32],
) -> None:
    """Add to `out (K, 3)` the light of so many sub-pixels, each such a share of the pixel, in all dyes."""
    _, _, _, tone, groove, bright = surface
    glint = groove * bright * (0.4 + 0.6 * open_sky)
    for which in range(len(dyes)):
        dye = dyes[which, thread]
        for j in range(3):
            by_key = gains[6 + j] * dyed(dye[j], gains[12])
            by_rest = gains[9 + j] * dyed(dye[j], gains[13])
            body = tinted(by_key, by_rest, dye[j], key * groove, open_sky * groove)
            skin = gains[j] * key + gains[3 + j] * open_sky
            out[which, j] += (body * tone + dye[3] * glint * skin) * many * share


@njit(cache=True, nogil=True, inline="always")
def _shared(
    strand: NDArray[np.int32],
    wholes: NDArray[np.int32],
    row: int,
    col: int,
    stride: int,
    dyes: NDArray[np.float32],
    thread_linear: NDArray[np.float32],
) -> bool:
    """Take over the light of an earlier pixel of the same square that shows the same thread."""
    r, c = row - row % stride, col - col % stride
    own = wholes[strand[row, col], THREAD]
    for j in range(r, row + 1):
        for k in range(c, c + stride if j < row else col):
            if k < strand.shape[1] and strand[j, k] >= 0 and wholes[strand[j, k], THREAD] == own:
                for which in range(len(dyes)):
                    for m in range(3):
                        thread_linear[row, col, which, m] = thread_linear[j, k, which, m]
                return True
    return False


@njit(cache=True, nogil=True)
def _frame_at(frame: NDArray[np.float32], x: float, y: float, out: NDArray[np.float64]) -> None:
    """The surface between its points, interpolated."""
    rows, cols = frame.shape[:2]
    x = min(max(x, 0.0), cols - 1.0)
    y = min(max(y, 0.0), rows - 1.0)
    c, r = min(int(x), cols - 2), min(int(y), rows - 2)
    u, w = x - c, y - r
    a, b, d, e = (1.0 - u) * (1.0 - w), u * (1.0 - w), (1.0 - u) * w, u * w
    one, two, three, four = frame[r, c], frame[r, c + 1], frame[r + 1, c], frame[r + 1, c + 1]
    for k in range(FRAME):
        out[k] = a * one[k] + b * two[k] + d * three[k] + e * four[k]


@njit(cache=True, nogil=True)
def _lobe_gains(
    azimuth: float,
    tilt_deg: float,
    roll_deg: float,
    here: NDArray[np.float64],
    shape: NDArray[np.float64],
    norms: NDArray[np.float64],
    upward: NDArray[np.float64],
    lamps: NDArray[np.float64],
    dome: NDArray[np.float64],
    gains: NDArray[np.float64],
) -> None:
    """RGB of skin by the key lamp, skin by all else, dye (albedo 1) by key and by all else."""
    tilt, roll = np.deg2rad(tilt_deg), np.deg2rad(roll_deg)
    ca, sa, ct, st = np.cos(azimuth), np.sin(azimuth), np.cos(tilt), np.sin(tilt)
    cr, sr = np.cos(roll), np.sin(roll)
    axis = _turned(here, ca * ct, sa * ct, st)
    # Level ground's normal leans against the tilt, and to the thread's right by the roll.
    normal = _turned(here, -st * cr * ca - sr * sa, -st * cr * sa + sr * ca, ct * cr)
    view = (here[9], here[10], here[11])
    whole, within, skin = norms_towards(norms, axis, normal, view)
    gains[:] = 0.0
    for p in range(len(lamps)):
        towards = (lamps[p, 0], lamps[p, 1], lamps[p, 2])
        # Below the cloth's own horizon there is no light.
        above = here[6] * towards[0] + here[7] * towards[1] + here[8] * towards[2]
        above = min(max(above / 0.12 + 0.3, 0.0), 1.0)
        if above <= 0.0:
            continue
        surface, volume, _, depth = lobe_weights(shape, axis, normal, towards, view)
        is_key = lamps[p, 6] > 0.5
        strength = above * (here[12] if is_key else 0.5 + 0.5 * here[13])
        at = 0 if is_key else 3
        one, two = strength * skin * surface / whole, strength * (1.0 - skin) * volume / within
        for j in range(3):
            gains[at + j] += one * lamps[p, 3 + j]
            gains[at + 6 + j] += two * lamps[p, 3 + j]
            gains[12 if is_key else 13] += two * depth * lamps[p, 3 + j]
    first, second, depth_above, depth_below = _upward_share(upward, azimuth, tilt_deg, roll_deg)
    for j in range(3):
        around = here[13] * dome[j]
        gains[3 + j] += skin * (first * around + (1.0 - first) * dome[3] * here[13])
        gains[9 + j] += (1.0 - skin) * (second * around + (1.0 - second) * dome[3] * here[13])
        gains[13] += (1.0 - skin) * (depth_above * around + depth_below * dome[3] * here[13])
    for which in range(2):
        by = 6 + 3 * which
        total = gains[by] + gains[by + 1] + gains[by + 2]
        gains[12 + which] = gains[12 + which] / total if total > 0.0 else 1.0


@njit(cache=True, nogil=True, inline="always")
def _turned(here: NDArray[np.float64], x: float, y: float, z: float) -> tuple[float, float, float]:
    """A direction of the flat cloth, on the cloth as it stands."""
    return (
        x * here[0] + y * here[3] + z * here[6],
        x * here[1] + y * here[4] + z * here[7],
        x * here[2] + y * here[5] + z * here[8],
    )


@njit(cache=True, nogil=True, inline="always")
def _upward_share(
    upward: NDArray[np.float64], azimuth: float, tilt_deg: float, roll_deg: float
) -> tuple[float, float, float, float]:
    """Share of skin's and dye's lobe that reaches the dome, and the dye's depth times its shares above
    and below, interpolated."""
    turns = azimuth / (2.0 * np.pi)
    a = (turns - np.floor(turns)) * UP_AZIMUTHS
    t = min(max((tilt_deg + 60.0) / 15.0, 0.0), 7.999)
    r = min(max((roll_deg + 75.0) / 37.5, 0.0), 3.999)
    i, j, k = int(a), int(t), int(r)
    a, t, r = a - i, t - j, r - k
    i = i % UP_AZIMUTHS
    far = (i + 1) % UP_AZIMUTHS
    first = second = third = fourth = 0.0
    for p in range(2):
        one = upward[far if p else i]
        share = a if p else 1.0 - a
        for q in range(2):
            for s in range(2):
                weight = share * (t if q else 1.0 - t) * (r if s else 1.0 - r)
                first += weight * one[j + q, k + s, 0]
                second += weight * one[j + q, k + s, 1]
                third += weight * one[j + q, k + s, 2]
                fourth += weight * one[j + q, k + s, 3]
    return first, second, third, fourth
