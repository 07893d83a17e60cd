"""A structured cap: six panels, stitched eyelets, a curved brim with its rows of stitching."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.scene.form import cord, cove, disc, eased, even_path, on_sheet, topstitch
from render.scene.mesh import Material, Part, unrolled
from render.scene.setting import Setting

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Floats
    from render.scene.camera import Camera

# Half widths of the head opening and the crown's height (common practice, no source).
SIDE_MM, FRONT_MM, HEIGHT_MM = 84.0, 98.0, 108.0
SQUARE = 2.45  # how upright the crown stands before it rounds over; 2 is an ellipsoid (estimate)
BRIM_MM, BRIM_HALF_DEG = 68.0, 66.0
SEAM_DEG = 60.0
LOWEST_MM = 13.0  # a design's lower edge over the brim (common practice, no source)
DESIGN_UP_MM = 36.0  # middle of the design over the brim, along the front (common practice, no source)
PANEL = Material("job", fuzz=0.12)
STITCH = Material(role="garment", shade=1.25, grain=0.25)


def setting_of(title: str, camera: Camera, design_mm: tuple[float, float]) -> Setting:
    """The cap before a camera, with a design so wide and high."""
    return Setting(
        title,
        parts(design_mm[1]),
        camera,
        fabric="cap-front",
        colour_srgb=(0.13, 0.17, 0.28),
        trim_srgb=(0.9, 0.9, 0.88),
        room_mm=(130.0, 58.0),
        place_mm=place_mm(design_mm[1]),
        cut_out=True,
    )


def place_mm(design_high_mm: float) -> tuple[float, float]:
    """Where the middle of a design so high lies: higher designs begin over the brim, as low as they can."""
    return 0.0, -max(design_high_mm / 2 + LOWEST_MM - DESIGN_UP_MM, 0.0)


def crown(design_high_mm: float) -> Part:
    """The crown from ear to ear; its flat cloth has the design's middle at its origin. Stitches of a design,
    so high, press the front seam flat."""
    up = np.linspace(0.0, 1.0, 190)
    turn = np.deg2rad(np.linspace(-118, 118, 431))
    line = np.stack(_profile(up), 1) * np.array([1.0, FRONT_MM])
    far = np.linalg.norm(np.diff(line, axis=0), axis=1).sum() * up
    over = far - DESIGN_UP_MM + place_mm(design_high_mm)[1]
    open_seam = eased(design_high_mm / 2 - 3.0, design_high_mm / 2 + 3.0, np.abs(over))
    points = _crown_points(up[::-1, None], turn[None], 0.25 + 0.75 * open_seam[::-1, None])
    front = points[:, len(turn) // 2]
    far = np.cumsum(np.linalg.norm(np.diff(front, axis=0), axis=1))
    row = int(np.argmin(abs(far - (far[-1] - DESIGN_UP_MM)))) + 1
    return Part(points, unrolled(points, row, len(turn) // 2), PANEL, sewn=True)


def _crown_points(up: Floats, turn: Floats, front_seam: Floats) -> NDArray[np.float64]:
    """Points at shares of the height and angles from the front, whose seam is so open."""
    height, narrowing = _profile(up)
    seam = np.zeros(np.broadcast(up, turn).shape)
    for middle in np.deg2rad([-SEAM_DEG, 0.0, SEAM_DEG]):
        across = (turn - middle) * 88.0 * np.maximum(narrowing, 0.05)
        stands = -0.85 * np.exp(-((across / 0.7) ** 2)) + 0.30 * np.exp(-((across / 5.0) ** 4))
        seam += stands * (front_seam if middle == 0.0 else 1.0)
    side = (SIDE_MM * narrowing + seam) * np.sin(turn)
    front = (FRONT_MM * narrowing + seam) * np.cos(turn)
    return np.stack(np.broadcast_arrays(side, -height, front), -1)


def _profile(up: Floats) -> tuple[Floats, Floats]:
    """Height and narrowing of the crown, even along the surface from the brim to the top."""
    turn = np.linspace(0, np.pi / 2, 400)
    high, wide = np.sin(turn) ** (2 / SQUARE) * HEIGHT_MM, np.cos(turn) ** (2 / SQUARE)
    far = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(high), np.diff(wide) * FRONT_MM))])
    at = np.interp(up, far / far[-1], np.arange(400.0))
    # The very top stays a hair wide, for its normals.
    return np.interp(at, np.arange(400.0), high), np.maximum(np.interp(at, np.arange(400.0), wide), 0.004)


def parts(design_high_mm: float) -> tuple[Part, ...]:
    """The whole cap on its backdrop; the design, so high, lies over the stitches of the front seam."""
    shell = crown(design_high_mm)
    made = [shell, *brim(), *_seam_stitches(shell, design_high_mm), *_eyelets(shell)]
    top = np.array([0.0, -HEIGHT_MM - 1.0, 0.0])
    profile = np.array([[8.5, -2.0], [8.0, 1.5], [6.5, 3.4], [4.0, 4.4], [0.05, 4.8]])
    made.append(disc(top, np.array([0.0, -1.0, 0.0]), profile, PANEL))
    # The sweatband's edge under the crown, behind the brim.
    low = even_path(shell.points_mm[-1] * np.array([0.985, 1.0, 0.985]), 3.0)[0]
    made.append(cord(low, 1.3, Material(role="garment", shade=0.8, grain=0.2)))
    # It rests on its brim.
    lowest = max(float(part.points_mm[..., 1].max()) for part in made)
    made.append(cove(lowest, -330.0, 420.0, 900.0, Material(role="own", colour_srgb=(0.87, 0.87, 0.86))))
    return tuple(made)


def _seam_stitches(shell: Part, design_high_mm: float) -> list[Part]:
    rows, cols = shell.points_mm.shape[:2]
    per_deg = (cols - 1) / 236.0
    lines = []
    over = shell.uv_mm[:, cols // 2, 1] < place_mm(design_high_mm)[1] - design_high_mm / 2 - 1.0
    for middle in (-SEAM_DEG, 0.0, SEAM_DEG):
        last = float(np.flatnonzero(over)[-1]) if middle == 0.0 else rows - 1.0
        if last < 20.0:
            continue
        row = np.linspace(10.0, last, 260)
        narrowing = _profile(1.0 - row / (rows - 1))[1]
        for side in (-1.0, 1.0):
            away = np.rad2deg(side * 3.4 / (90.0 * np.maximum(narrowing, 0.12)))
            points, normals = on_sheet(shell, row, (middle + away + 118.0) * per_deg)
            lines.append(topstitch(points, normals, STITCH, stitch_mm=2.4, radius_mm=0.22))
    return lines


def _eyelets(shell: Part) -> list[Part]:
    """A ring of satin stitches round a hole, on the middle of each front panel."""
    rows, cols = shell.points_mm.shape[:2]
    per_deg = (cols - 1) / 236.0
    made = []
    for middle in (-30.0, 30.0):
        (point,), (normal,) = on_sheet(shell, np.array([0.34 * rows]), np.array([(middle + 118.0) * per_deg]))
        hole = np.array([[2.3, 0.25], [0.02, 0.22]])
        made.append(disc(point, normal, hole, Material(role="own", colour_srgb=(0.03, 0.03, 0.03))))
        ring = np.linspace(0, 2 * np.pi, 200)
        bumps = 0.55 + 0.22 * abs(np.sin(ring * 21))
        side = np.cross([0.0, 1.0, 0.0], normal)
        side /= np.linalg.norm(side)
        other = np.cross(normal, side)
        path = point + 3.3 * (np.cos(ring)[:, None] * side + np.sin(ring)[:, None] * other) + 0.3 * normal
        made.append(cord(path, 1.9 * bumps, STITCH, ends=False))
    return made


def brim() -> list[Part]:
    """Upper and lower face, the bound edge, and seven rows of stitching."""
    turn = np.deg2rad(np.linspace(-BRIM_HALF_DEG, BRIM_HALF_DEG, 221))
    out = np.linspace(0.0, 1.0, 90)
    upper = _brim_points(out[:, None], turn[None], 0.0)
    face = Part(upper, unrolled(upper, 0, 110), PANEL)
    lower = _brim_points(out[::-1, None], turn[None], 3.2)
    edge_path = (upper[-1] + lower[0]) / 2
    edge = cord(even_path(edge_path, 1.5)[0], 1.9, PANEL)
    made = [face, Part(lower, unrolled(lower, 0, 110), PANEL), edge]
    for share in np.linspace(0.12, 0.93, 7):
        inner = eased(0, 1, share)
        reach = np.linspace(2 + 10 * (1 - inner), 218 - 10 * (1 - inner), 300)
        points, normals = on_sheet(face, np.full(300, share * 89), reach)
        made.append(topstitch(points, normals, STITCH, stitch_mm=3.0, radius_mm=0.26))
    return made


def _brim_points(out: Floats, turn: Floats, under_mm: float) -> NDArray[np.float64]:
    """Points of the brim at shares of its depth and angles from the front."""
    round_end = np.cos(np.clip(turn / np.deg2rad(BRIM_HALF_DEG), -1, 1) * np.pi / 2)
    depth = BRIM_MM * np.maximum(round_end, 0.0) ** 0.62
    inside = 1.0 - 0.02 * (1.0 - out) ** 2
    x = SIDE_MM * np.sin(turn) * inside
    z = FRONT_MM * np.cos(turn) * inside + depth * out
    # Bent over the knee: the sides hang lower, the more so the farther out.
    reach = out * depth / BRIM_MM
    hang = 24.0 * (x / SIDE_MM) ** 2 * reach + 5.0 * reach * reach
    return np.stack(np.broadcast_arrays(x, under_mm - 1.0 + hang, z), -1)
