"""A scene from top to bottom: the design is sewn, laid on the garment, lit, seen and developed."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from render.colour import to_linear, to_srgb
from render.compose import MM_PER_INCH
from render.compose.encoding import shoulder
from render.draw import draw_turned
from render.materials.fabrics import load_fabric
from render.materials.fibres import load_fibres
from render.model import Picture, Window
from render.scene.cloth import Cloths, cloths_for
from render.scene.lens import blurred
from render.scene.light import lamps_of, light_looks
from render.scene.surface import turned_surface
from render.scene.view import cloth_seen, looks_in, stage

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from render.draw.turned import TurnedLayers
    from render.model import Colour, Job, Thread
    from render.preview import SewnDesign
    from render.scene.gather import Looks
    from render.scene.light import Lamps
    from render.scene.setting import Setting
    from render.scene.view import Stage

BAND_ROWS = 96
OVERSAMPLE = 1.3  # pixels of the flat thread a pixel of the picture
MOST_THREAD_PX = 14_000_000
GRAIN = 0.006  # of a sensor at a low setting (estimate)


@dataclass(frozen=True, slots=True)
class Colouring:
    """One set of colours: of every block's thread, and of the garment and its trim."""

    name: str
    threads: tuple[Thread, ...]
    garment_srgb: Colour
    trim_srgb: Colour


@dataclass(frozen=True, slots=True)
class Frame:
    """The finished picture: size in pixels, whether cut out, and how dark its corners get."""

    rows: int
    cols: int
    transparent: bool = False
    backdrop_srgb: Colour | None = None
    vignette: float | None = None


def draw_scene(
    ready: SewnDesign, job: Job, setting: Setting, frame: Frame, colourings: Sequence[Colouring]
) -> list[Picture]:
    """One picture a colouring; what colours do not change is worked out once."""
    if frame.transparent:
        setting = replace(setting, parts=tuple(part for part in setting.parts if not part.ground))
    here = stage(setting, job.light, frame.rows, frame.cols)
    layers = thread_on(here, ready, job, [one.threads for one in colourings])
    lamps = lamps_of(job.light)
    cloths = [cloths_for(here, job, one, lamps) for one in colourings]
    light = [np.zeros((frame.rows, frame.cols, 3), np.float32) for _ in colourings]
    solid = np.zeros((frame.rows, frame.cols), np.float32)
    circle = np.zeros((frame.rows, frame.cols), np.float32)
    backdrops = [_backdrop(setting, frame) for _ in colourings]

    def band(top: int) -> None:
        rows = min(BAND_ROWS, frame.rows - top)
        looks = looks_in(here, top, rows)
        _depth_of(here, looks, solid[top : top + rows], circle[top : top + rows])
        for which in range(len(colourings)):
            out = light[which][top : top + rows]
            _light_band(here, looks, top, out, cloths[which], lamps, layers, which)

    with ThreadPoolExecutor(os.cpu_count() or 1) as pool:
        list(pool.map(band, range(0, frame.rows, BAND_ROWS)))
    dpi = here.seen.px / here.seen.focus_mm * MM_PER_INCH
    return [
        _developed(one, solid, circle, backdrop, frame, setting, job.seed, dpi, ready.notes)
        for one, backdrop in zip(light, backdrops, strict=True)
    ]


def thread_on(
    here: Stage, ready: SewnDesign, job: Job, thread_sets: Sequence[tuple[Thread, ...]]
) -> TurnedLayers:
    """The design on the garment's cloth, as far as the picture shows it."""
    left, top, right, bottom = ready.sewn.plan.box_mm
    middle = ((left + right) / 2, (top + bottom) / 2)
    offset = (middle[0] - here.setting.place_mm[0], middle[1] - here.setting.place_mm[1])
    seen_box, scale = cloth_seen(here)
    # Of a design outside the picture a corner is drawn all the same: there is always something.
    box = (left - offset[0] - 3, top - offset[1] - 3, right - offset[0] + 3, bottom - offset[1] + 3)
    x0, y0, x1, y1 = (
        float(np.clip(side, seen_box[k % 2], seen_box[k % 2 + 2])) for k, side in enumerate(box)
    )
    box = (x0, y0, max(x1, x0 + 1.0), max(y1, y0 + 1.0))
    wide, high = box[2] - box[0], box[3] - box[1]
    per_mm = min(OVERSAMPLE * max(scale, 1.0), float(np.sqrt(MOST_THREAD_PX / (wide * high))))
    window = Window(
        ((box[0] + box[2]) / 2 + offset[0], (box[1] + box[3]) / 2 + offset[1]),
        per_mm,
        # Even, so that pixels come in pairs.
        max(2 * int(high * per_mm / 2), 2),
        max(2 * int(wide * per_mm / 2), 2),
    )
    surface = turned_surface(here.mesh, here.reaching, here.sewn, box, here.seen, offset)
    layers = draw_turned(
        ready.sewn,
        thread_sets=thread_sets,
        lobes=load_fibres(),
        load_fabric=load_fabric,
        job=job,
        window=window,
        surface=surface,
    )
    centre = (window.centre_mm[0] - offset[0], window.centre_mm[1] - offset[1])
    return replace(layers, window=replace(window, centre_mm=centre))


def _light_band(
    here: Stage,
    looks: Looks,
    top: int,
    out: NDArray[np.float32],
    cloths: Cloths,
    lamps: Lamps,
    layers: TurnedLayers,
    which: int,
) -> None:
    seen, window = here.seen, layers.window
    light_looks(
        looks.pixel,
        looks.share,
        looks.part,
        looks.values,
        looks.uv,
        looks.count,
        cloths.flat_light(looks),
        cloths.colour_linear,
        cloths.material,
        lamps.rows,
        lamps.dome,
        lamps.card,
        seen.axes,
        np.array([seen.px, seen.cols / 2, top - seen.rows / 2]),
        layers.thread_linear[which],
        layers.cloth_share,
        layers.pressed,
        np.array([*window.centre_mm, window.px_per_mm]),
        out,
    )


def _depth_of(here: Stage, looks: Looks, solid: NDArray[np.float32], circle: NDArray[np.float32]) -> None:
    """Share of each pixel that something stands in, and its circle of confusion, negative behind
    the plane of focus."""
    seen = here.seen
    stands = looks.part >= 0
    pixel, share = looks.pixel[stands], looks.share[stands]
    size = solid.size
    solid[:] = np.bincount(pixel, share, size).reshape(solid.shape)
    near = np.zeros(size, np.float32)
    np.maximum.at(near, pixel, looks.nearness[stands])
    signed = seen.blur_px * (seen.focus_mm * near - 1.0)
    # Past everything the backdrop is as soft as what stands farthest before it.
    signed[near == 0] = -abs(signed[near > 0]).max() if (near > 0).any() else 0.0
    circle[:] = signed.reshape(circle.shape)


def _backdrop(setting: Setting, frame: Frame) -> NDArray[np.float32]:
    """Linear light (rows, 1, 3) past everything."""
    pair = setting.backdrop_srgb if frame.backdrop_srgb is None else (frame.backdrop_srgb,) * 2
    upper, lower = (to_linear(np.array(colour)) for colour in pair)
    share = np.linspace(0, 1, frame.rows)[:, None, None]
    return np.asarray(upper + (lower - upper) * share, np.float32)


def _developed(
    light: NDArray[np.float32],
    solid: NDArray[np.float32],
    circle: NDArray[np.float32],
    backdrop: NDArray[np.float32],
    frame: Frame,
    setting: Setting,
    seed: int,
    dpi: float,
    notes: tuple[str, ...],
) -> Picture:
    """Through the lens onto the sensor, and from its light to sRGB."""
    if not frame.transparent:
        light += backdrop * (1.0 - solid)[..., None]
    planes = blurred(np.dstack([light, solid]) if frame.transparent else light, circle)
    strength = setting.vignette if frame.vignette is None else frame.vignette
    pixels = np.empty((*solid.shape, 4 if frame.transparent else 3), np.uint8)

    def band(top: int) -> None:
        part = planes[top : top + BAND_ROWS]
        colour = part[..., :3]
        if frame.transparent:
            alpha = np.clip(part[..., 3:], 0.0, 1.0)
            colour = np.asarray(colour / np.maximum(alpha, 1e-3), np.float32)
            pixels[top : top + BAND_ROWS, :, 3:] = np.rint(alpha * 255.0)
        else:
            colour = np.asarray(colour * _corners(frame, strength, top, len(part)), np.float32)
        noise = np.random.default_rng([seed, 77, top]).standard_normal(colour.shape[:2], np.float32)
        developed = to_srgb(shoulder(colour)) + np.float32(GRAIN) * noise[..., None]
        pixels[top : top + BAND_ROWS, :, :3] = np.rint(np.clip(developed, 0.0, 1.0) * 255.0)

    with ThreadPoolExecutor(os.cpu_count() or 1) as pool:
        list(pool.map(band, range(0, frame.rows, BAND_ROWS)))
    return Picture(pixels, dpi, notes)


def _corners(frame: Frame, strength: float, top: int, rows: int) -> NDArray[np.float32]:
    """How a lens darkens towards the corners, by `strength` there: rows from `top` on."""
    y = (np.arange(top, top + rows) + 0.5 - frame.rows / 2)[:, None]
    x = (np.arange(frame.cols) + 0.5 - frame.cols / 2)[None]
    far = (x * x + y * y) / ((frame.rows**2 + frame.cols**2) / 4)
    return np.asarray(1.0 - strength * far * far, np.float32)[..., None]
