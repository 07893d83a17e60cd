"""The design on the shop's own photograph of a garment."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from scipy.ndimage import gaussian_filter

from render.colour import to_linear, to_srgb
from render.compose import MM_PER_INCH
from render.compose.encoding import shoulder
from render.errors import InputError
from render.model import Picture
from render.scene.bands import BAND_ROWS, part_of
from render.scene.camera import Camera, Seen
from render.scene.gather import SUB
from render.scene.light import thread_looks
from render.scene.mesh import Material, Part, joined
from render.scene.photo.matching import OWN_BLUR_PX, look_of
from render.scene.photo.placing import homography
from render.scene.picture import thread_on
from render.scene.setting import Setting
from render.scene.view import Stage, looks_in

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from render.model import Job, Light, Thread
    from render.preview import SewnDesign
    from render.scene.mesh import Mesh
    from render.scene.photo.matching import Look
    from render.scene.photo.placing import Place
    from render.scene.photo.reading import Photo

    Point = tuple[float, float]
    Box = tuple[int, int, int, int]

MARGIN_MM = 5.0
STEPS = 160
SLIP_MM = 2.2  # how far the design goes along with a fold that doubles the light (estimate)


@dataclass(frozen=True, slots=True, eq=False)
class OnPhoto:
    """The design placed on a photograph; `mask (rows, cols)` where the garment shows, None everywhere."""

    photo: Photo
    place: Place
    mask: NDArray[np.float32] | None


def draw_on_photo(
    ready: SewnDesign,
    job: Job,
    target: OnPhoto,
    thread_sets: Sequence[tuple[Thread, ...]],
    progress: Callable[[float], None] | None = None,
) -> list[Picture]:
    """One picture for each set of threads; `progress` is told the share done, in [0, 1], from several
    threads. Raises InputError for a design beyond the photograph."""
    left, top, right, bottom = ready.sewn.plan.box_mm
    design = (right - left, bottom - top)
    law = homography(target.place, design)
    box, px_per_mm = _box_px(law, design, target)
    look = look_of(target.photo.srgb, box, px_per_mm, job.fabric_colour_srgb)
    azimuth = target.place.light_azimuth_deg
    light = _lit_from(job.light, look.azimuth_deg if azimuth is None else azimuth)
    job = replace(job, light=light)
    here = photo_stage(target, law, design, look if target.place.folds else None, box, light)
    layers = thread_on(here, ready, job, thread_sets, part_of(progress, 0.0, 0.7))
    notes = (*ready.notes, *target.photo.notes, *_told(look, azimuth, job))
    pictures = []
    told = part_of(progress, 0.7, 1.0)
    for which in range(len(thread_sets)):
        told(which / len(thread_sets))
        planes = np.zeros((*target.photo.srgb.shape[:2], 5), np.float32)
        planes[..., 3:] = 1.0
        for first in range(box[0], box[2], BAND_ROWS):
            rows = min(BAND_ROWS, box[2] - first)
            looks = looks_in(here, first, rows)
            thread_looks(
                looks.pixel,
                looks.share,
                looks.part,
                looks.uv,
                looks.count,
                np.ascontiguousarray(layers.thread_linear[:, :, which]),
                layers.cloth_share,
                layers.pressed,
                layers.covered,
                np.array([*layers.window.centre_mm, layers.window.px_per_mm]),
                planes[first : first + rows],
            )
        pixels = _laid(target, planes, look, box, job.seed)
        pictures.append(Picture(pixels, px_per_mm * MM_PER_INCH, notes))
    return pictures


def photo_stage(
    target: OnPhoto,
    law: NDArray[np.float64],
    design: Point,
    folds: Look | None,
    box: tuple[int, ...],
    light: Light,
) -> Stage:
    """A stage whose one part is the design's cloth, seen as the photograph's own camera saw it."""
    rows, cols = target.photo.srgb.shape[:2]
    u = np.linspace(-design[0] / 2 - MARGIN_MM, design[0] / 2 + MARGIN_MM, STEPS)
    v = np.linspace(-design[1] / 2 - MARGIN_MM, design[1] / 2 + MARGIN_MM, STEPS)
    flat = np.dstack([*np.meshgrid(u, v), np.zeros((STEPS, STEPS))])
    points = flat.copy()
    radius = target.place.cylinder_mm
    if radius is not None:
        wide = (target.place.corners_mm or design)[0]
        turn = flat[..., 0] / radius
        points[..., 0] = radius * np.sin(turn)
        points[..., 2] = radius * (np.cos(turn) - np.cos(min(wide / 2 / radius, np.pi / 2)))
    axes, scale = pose(law, target.photo.focal_px, (cols / 2, rows / 2))
    camera = np.array([[target.photo.focal_px, 0, cols / 2], [0, target.photo.focal_px, rows / 2], [0, 0, 1]])
    up = camera @ axes[2] * scale
    seen_at = points[..., :2] @ law[:, :2].T + law[:, 2] + points[..., 2:] * up
    place = np.dstack([seen_at[..., :2] / seen_at[..., 2:], scale / seen_at[..., 2]])
    if folds is not None:
        px_per_mm = float(np.sqrt(abs(np.linalg.det(law[:2, :2]))))
        place[..., :2] += _slips(folds, box, place[..., :2], light, px_per_mm)
    # In the photograph's space: z towards the viewer, away from the scene.
    metric = (points @ axes + (np.linalg.inv(camera) @ law[:, 2]) / scale) * np.array([1.0, 1.0, -1.0])
    part = Part(metric, flat[..., :2].copy(), Material("job"), sewn=True)
    setting = Setting("photo", (part,), Camera(50.0, 0.0, design[0]), "", (0.5,) * 3, (0.5,) * 3, design)
    mesh = joined((part,))
    focus = float(np.median(-metric[..., 2]))
    seen = Seen(np.eye(3), np.zeros(3), target.photo.focal_px, focus, 0.0, rows, cols)
    return _staged(setting, mesh, seen, place.reshape(-1, 3))


def pose(law: NDArray[np.float64], focal_px: float, middle: Point) -> tuple[NDArray[np.float64], float]:
    """Unit directions of the design's x, y and face (3, 3) in the camera's space (z away from it), and
    how many times larger the law is than a camera's own: from a plane's homography (Zhang 2000)."""
    camera = np.array([[focal_px, 0, middle[0]], [0, focal_px, middle[1]], [0, 0, 1.0]])
    inner = np.linalg.inv(camera) @ law
    scale = float(np.sqrt(np.linalg.norm(inner[:, 0]) * np.linalg.norm(inner[:, 1])))
    first, second = inner[:, 0] / scale, inner[:, 1] / scale
    # The nearest right-angled pair of unit length.
    u, _, vt = np.linalg.svd(np.stack([first, second], 1), full_matrices=False)
    pair = u @ vt
    face = np.cross(pair[:, 1], pair[:, 0])
    return np.stack([pair[:, 0], pair[:, 1], face]), scale


def _staged(setting: Setting, mesh: Mesh, seen: Seen, place: NDArray[np.float64]) -> Stage:
    reaching = np.ones((len(mesh.points_mm), 2), np.float32)
    place = np.stack([place[:, 0] * SUB, place[:, 1] * SUB, place[:, 2]], 1)
    values = np.concatenate([mesh.uv_mm, mesh.normal, reaching], 1).astype(np.float32)
    height = place[:, 1][mesh.corners]
    span = np.stack([height.min(1), height.max(1)], 1)
    return Stage(setting, mesh, reaching, seen, place, values, span)


def _box_px(law: NDArray[np.float64], design: Point, target: OnPhoto) -> tuple[Box, float]:
    """Rows and columns (top, left, bottom, right) that the design can touch, and pixels a mm there."""
    rows, cols = target.photo.srgb.shape[:2]
    wide, high = (side / 2 + MARGIN_MM for side in design)
    around = np.linspace(-1, 1, 9)
    grid = np.array([(wide * a, high * b, 1.0) for a in around for b in around]) @ law.T
    at = grid[:, :2] / grid[:, 2:]
    if (grid[:, 2] <= 0).any() or not np.isfinite(at).all():
        raise InputError("the corners show the design edge on: give corners of a flatter view")
    low, high_at = np.floor(at.min(0)).astype(int) - 12, np.ceil(at.max(0)).astype(int) + 12
    top, left = max(int(low[1]), 0), max(int(low[0]), 0)
    bottom, right = min(int(high_at[1]), rows), min(int(high_at[0]), cols)
    if bottom - top < 8 or right - left < 8:
        raise InputError("the design lies beyond the edge of the photo: check the placement's pixels")
    scale = float(np.sqrt(abs(np.linalg.det(law[:2, :2] - np.outer(law[:2, 2], law[2, :2])))))
    return (top, left, bottom, right), scale


def _lit_from(light: Light, azimuth_deg: float) -> Light:
    """The set-up turned so that its key lamp stands at the azimuth."""
    if not light.lamps:
        return light
    turn = azimuth_deg - light.lamps[0].azimuth_deg
    lamps = tuple(replace(lamp, azimuth_deg=(lamp.azimuth_deg + turn) % 360.0) for lamp in light.lamps)
    return replace(light, lamps=lamps)


def _told(look: Look, azimuth: float | None, job: Job) -> list[str]:
    notes = []
    if azimuth is None:
        notes.append(f"the photo's light seems to come from {look.azimuth_deg:.0f}° (0 right, 90 bottom)")
    if job.fabric_colour_srgb is None:
        notes.append(
            "with the blank's real colour (--fabric-colour) the strength and colour of the light match"
        )
    return notes


def _slips(
    look: Look, box: tuple[int, ...], place: NDArray[np.float64], light: Light, px_per_mm: float
) -> NDArray[np.float64]:
    """How far each point moves over the photograph's folds, pixels: towards the light where it is lit."""
    from scipy.ndimage import map_coordinates

    at = np.stack([place[..., 1] - box[0] - 0.5, place[..., 0] - box[1] - 0.5])
    raised = np.log(map_coordinates(look.shading, at, order=1, mode="nearest"))
    azimuth = np.deg2rad(light.lamps[0].azimuth_deg) if light.lamps else 0.0
    towards = np.array([np.cos(azimuth), np.sin(azimuth)])
    return np.asarray(raised[..., None] / np.log(2.0) * SLIP_MM * px_per_mm * towards)


def _laid(
    target: OnPhoto, planes: NDArray[np.float32], look: Look, box: tuple[int, int, int, int], seed: int
) -> NDArray[np.uint8]:
    """Thread and its shadow over the photograph, as soft and as grainy as that is."""
    top, left, bottom, right = box
    place = (slice(top, bottom), slice(left, right))
    part = planes[place]
    extra = np.sqrt(max(look.blur_px**2 - OWN_BLUR_PX**2, 0.0))
    if extra > 0.15:
        part = np.stack([gaussian_filter(part[..., k], extra) for k in range(5)], -1)
    light = part[..., :3] * look.card_linear.astype(np.float32)
    if target.place.folds:
        light = light * look.shading[..., None]
    covered = (1.0 - part[..., 4])[..., None]
    cloth = to_linear(target.photo.srgb[place])
    laid = np.asarray(to_srgb(cloth * part[..., 3:4] + shoulder(light.astype(np.float32))))
    noise = np.random.default_rng([seed, 78]).standard_normal((bottom - top, right - left, 3))
    laid = laid + covered * look.grain * noise
    if target.mask is not None:
        share = target.mask[place][..., None]
        laid = target.photo.srgb[place] * (1.0 - share) + laid * share
    out: NDArray[np.uint8] = np.rint(target.photo.srgb * 255.0).astype(np.uint8)
    touched = (part[..., 3] < 0.9995) | (covered[..., 0] > 0.0005)
    levels = np.rint(np.clip(laid, 0, 1) * 255.0)
    out[place] = np.where(touched[..., None], levels, out[place])
    return out
