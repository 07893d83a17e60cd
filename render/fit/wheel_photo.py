"""A photograph of the sewn angle wheel: the mean colour of each wedge against a sheet of white paper."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.ndimage import map_coordinates

from render.colour import SRGB_TO_XYZ, to_linear
from render.errors import InputError
from render.model import freeze
from render.scene.photo.placing import four_point_homography
from render.swatch.wheel import CORNER_MM, FRAME_MM, WEDGE_DEG, WEDGES, WHEEL_MM, spoke_deg

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Floats

# Office paper returns 0.85 to 0.92 of the light, from memory; what a brightener adds to its blue is not
# taken off.
PAPER_LINEAR = 0.88
CLIPPED = 250 / 255
MOST_CLIPPED = 0.005  # share of a part's samples
LEAST_LINEAR = 0.15  # of the paper: darker photographs hold too few levels (estimate)
LEAST_PX_PER_MM = 4.0
MOST_ASKEW = 1.08  # opposite sides of the frame: else it was seen aslant, and its sheen with it (estimate)
MOST_UNEVEN = 1.35  # light at one edge of the wheel over that at the other (estimate)
STEP_MM = 0.08
PAPER_MM = 1.5
READ_MM = WHEEL_MM[0] + 1.5, WHEEL_MM[1] - 1.0  # of a wedge, clear of its ends
READ_WIDE = 0.75  # of its width, clear of its edges


@dataclass(frozen=True, slots=True, eq=False)
class WheelPhoto:
    """`wedges (12, 3)` linear RGB of each wedge, a perfectly white card being 1; `uneven` how the light
    changed across the wheel, which is taken out; `px_per_mm` of the photograph."""

    wedges: Floats
    uneven: float
    px_per_mm: float

    def __post_init__(self) -> None:
        freeze(self, wedges=(WEDGES, 3))


def wedge_of(points_mm: NDArray[np.float64]) -> NDArray[np.int64]:
    """Which wedge's middle each point (..., 2) lies in, -1 for none; (0, 0) is the wheel's middle."""
    x, y = points_mm[..., 0], points_mm[..., 1]
    found = np.full(x.shape, -1, np.int64)
    for number in range(WEDGES):
        turn = np.deg2rad(spoke_deg(number))
        along, across = x * np.cos(turn) + y * np.sin(turn), y * np.cos(turn) - x * np.sin(turn)
        reach = READ_WIDE * along * np.tan(np.deg2rad(WEDGE_DEG / 2))
        found[(along > READ_MM[0]) & (along < READ_MM[1]) & (np.abs(across) < reach)] = number
    return found


def read_wheel(
    srgb: NDArray[np.float32], corners_px: NDArray[np.float64], paper_px: tuple[float, float]
) -> WheelPhoto:
    """The wedges of a photograph (rows, cols, 3) whose frame has these corners (4, 2), clockwise from the
    one with the small square, and whose paper shows at `paper_px`. Raises InputError where it cannot tell
    colours: clipped, too dark, too small, or seen aslant."""
    px_per_mm = _check_corners(corners_px, srgb.shape)
    half = FRAME_MM / 2
    frame = np.array([(-half, -half), (half, -half), (half, half), (-half, half)])
    to_px = four_point_homography(frame, corners_px)
    side = np.arange(-half + 1.0, half - 1.0, STEP_MM)
    points = np.stack(np.meshgrid(side, side), -1).reshape(-1, 2)
    seen = _at(srgb, _projected(to_px, points))
    wedge = wedge_of(points)
    _check_levels(seen[wedge >= 0], "the wedges")
    paper_mm, paper = _paper(srgb, paper_px, px_per_mm, to_px)
    gain, uneven = _light_over(points, to_linear(seen))
    linear = to_linear(seen) / gain(points)[:, None]
    white = paper / gain(paper_mm[None])[0] / PAPER_LINEAR
    means = np.array([linear[wedge == number].mean(0) for number in range(WEDGES)])
    return WheelPhoto(means / white, uneven, px_per_mm)


def _check_corners(corners_px: NDArray[np.float64], shape: tuple[int, ...]) -> float:
    """Pixels a mm; refuses a frame that lies off a photo (rows, cols, 3), or is seen aslant."""
    rows, cols = shape[:2]
    if corners_px.min() < 0 or (corners_px.max(0) > (cols, rows)).any():
        raise InputError(
            f"a corner of the wheel's frame lies off the photo, which has {cols} x {rows} pixels: "
            "check the corners"
        )
    run = np.roll(corners_px, -1, axis=0) - corners_px
    after = np.roll(run, -1, axis=0)
    sides = np.hypot(*run.T)
    skew = max(
        float(max(a, b) / max(min(a, b), 1e-9)) for a, b in ((sides[0], sides[2]), (sides[1], sides[3]))
    )
    clockwise = (run[:, 0] * after[:, 1] > run[:, 1] * after[:, 0]).all()
    if not clockwise or max(skew, float(sides.max() / max(float(sides.min()), 1e-9))) > MOST_ASKEW:
        raise InputError(
            "the frame of the wheel is no square on this photo: hold the camera straight above the wheel, "
            "and give its four corners clockwise from the one with the small square"
        )
    px_per_mm = float(sides.mean() / FRAME_MM)
    if px_per_mm < LEAST_PX_PER_MM:
        raise InputError(
            f"the wheel has only {px_per_mm:.1f} pixels a mm on this photo: go nearer, until it fills it"
        )
    return px_per_mm


def _check_levels(srgb: NDArray[np.float64], what: str) -> None:
    clipped = float((srgb >= CLIPPED).any(-1).mean())
    if clipped > MOST_CLIPPED:
        raise InputError(
            f"{what} are overexposed in {100 * clipped:.1f} % of their area: what is white there cannot be "
            "told; photograph the wheel darker"
        )


def _paper(
    srgb: NDArray[np.float32], paper_px: tuple[float, float], px_per_mm: float, to_px: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Where the paper was read, mm, and its linear colour."""
    reach = np.arange(-PAPER_MM, PAPER_MM, STEP_MM) * px_per_mm
    around = np.stack(np.meshgrid(reach, reach), -1).reshape(-1, 2) + np.array(paper_px)
    rows, cols = srgb.shape[:2]
    if around.min() < 0 or (around.max(0) > (cols - 1, rows - 1)).any():
        raise InputError(
            f"the paper at {paper_px[0]:g},{paper_px[1]:g} lies off the photo, or on its edge: "
            "give a place on the paper, farther in"
        )
    seen = _at(srgb, around)
    _check_levels(seen, "the parts of the paper read")
    linear = to_linear(seen)
    mean = linear.mean(0)
    if float(SRGB_TO_XYZ[1] @ mean) < LEAST_LINEAR:
        raise InputError("the paper is too dark on this photo to tell colours by: expose it longer")
    if float((linear.std(0) / mean).max()) > 0.15:
        raise InputError(
            f"what shows at {paper_px[0]:g},{paper_px[1]:g} is not evenly white: give a place on the paper"
        )
    from_px = np.asarray(np.linalg.inv(to_px), np.float64)
    return _projected(from_px, np.array([paper_px]))[0], mean


def _light_over(points_mm: NDArray[np.float64], linear: NDArray[np.float64]) -> tuple[_Gain, float]:
    """How the light changes over the wheel, from the cloth between it and its frame: a power of e that is
    even in x and y, 1 in the middle."""
    corner = -FRAME_MM / 2 + CORNER_MM + 1.0
    bare = np.hypot(*points_mm.T) > WHEEL_MM[1] + 1.5
    bare &= ~((points_mm < corner).all(1))
    light = np.log(np.maximum(linear[bare] @ SRGB_TO_XYZ[1], 1e-4))
    design = np.column_stack([points_mm[bare], np.ones(int(bare.sum()))])
    slope = np.linalg.lstsq(design, light, rcond=None)[0][:2]
    uneven = float(np.exp(np.hypot(*slope) * 2 * WHEEL_MM[1]))
    if uneven > MOST_UNEVEN:
        raise InputError(
            f"the light changes {uneven:.2f} times across the wheel: move the lamp farther away, and the "
            "paper beside the wheel"
        )
    return _Gain(slope), uneven


@dataclass(frozen=True, slots=True, eq=False)
class _Gain:
    """Light at points (N, 2) relative to the wheel's middle."""

    slope: NDArray[np.float64]

    def __call__(self, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.asarray(np.exp(points_mm @ self.slope))


def _at(srgb: NDArray[np.float32], points_px: NDArray[np.float64]) -> NDArray[np.float64]:
    """Colours (N, 3) between pixels, at (x, y) from the upper left corner of the photograph."""
    place = [points_px[:, 1] - 0.5, points_px[:, 0] - 0.5]
    return np.stack(
        [map_coordinates(srgb[..., c], place, order=1, mode="nearest") for c in range(3)], -1
    ).astype(np.float64)


def _projected(homography: NDArray[np.float64], points: NDArray[np.float64]) -> NDArray[np.float64]:
    found = np.column_stack([points, np.ones(len(points))]) @ homography.T
    return np.asarray(found[:, :2] / found[:, 2:])
