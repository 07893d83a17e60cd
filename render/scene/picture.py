"""A scene from top to bottom: the sewn design is laid on the garment, lit, seen and developed."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from render.compose import MM_PER_INCH
from render.draw import draw_turned
from render.draw.pucker import AROUND_MM
from render.materials.fabrics import load_fabric
from render.materials.fibres import load_fibres
from render.model import Picture, Window
from render.scene.bands import BAND_ROWS, FEW_ROWS, in_bands, part_of
from render.scene.cloth import cloths_for
from render.scene.develop import GRAIN, develop, grain_of, sharpened, tone_curve
from render.scene.drawn_in import drawn_in
from render.scene.frame import backdrop_of
from render.scene.lens import spread_rows, spreading
from render.scene.light import light_looks, towards_dark
from render.scene.surface import turned_surface
from render.scene.view import cloth_seen, looks_in

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from render.draw.turned import TurnedLayers
    from render.model import Job, Thread
    from render.preview import SewnDesign
    from render.scene.cloth import Cloths
    from render.scene.frame import Frame, SetUp
    from render.scene.gather import Looks
    from render.scene.light import Lamps
    from render.scene.sets import Colouring
    from render.scene.view import Stage

OVERSAMPLE = 1.15  # pixels of the flat thread a pixel of the picture
MOST_THREAD_PX = 14_000_000
MOST_LIGHT = 120_000_000  # numbers of light that are held at a time, of four bytes each


def draw_scene(
    ready: SewnDesign,
    job: Job,
    prepared: SetUp,
    colourings: Sequence[Colouring],
    progress: Callable[[float], None] | None = None,
) -> list[Picture]:
    """One picture a colouring; what they share is worked out once for as many as fit into memory.
    `progress` is told the share done, in [0, 1], from several threads."""
    together = max(1, MOST_LIGHT // (3 * prepared.frame.rows * prepared.frame.cols))
    pictures: list[Picture] = []
    for first in range(0, len(colourings), together):
        some = colourings[first : first + together]
        told = part_of(progress, first / len(colourings), (first + len(some)) / len(colourings))
        pictures += _drawn(prepared, ready, job, some, told)
    return pictures


def _drawn(
    prepared: SetUp,
    ready: SewnDesign,
    job: Job,
    colourings: Sequence[Colouring],
    progress: Callable[[float], None],
) -> list[Picture]:
    here, frame = prepared.here, prepared.frame
    threads = [one.threads for one in colourings]
    layers = thread_on(here, ready, job, threads, part_of(progress, 0.0, 0.5))
    drawn = drawn_in(ready.sewn, design_offset(here, ready), job.seed)
    cloths = cloths_for(here, prepared.undyed, prepared.lamps, colourings, job.seed, drawn)
    scene = _Lit(here, layers, prepared.lamps, cloths)
    # Of a cut-out, the last channel is what is solid.
    channels = 3 * len(colourings) + int(frame.transparent)
    light = np.zeros((frame.rows, frame.cols, channels), np.float32)
    circle = np.zeros((frame.rows, frame.cols), np.float32)
    backdrop = np.tile(backdrop_of(here.setting, frame), len(colourings))

    band_rows = BAND_ROWS if len(colourings) < 4 else FEW_ROWS

    def band(top: int) -> None:
        progress(0.5 + 0.3 * top / frame.rows)
        rows = min(band_rows, frame.rows - top)
        looks = looks_in(here, top, rows)
        solid = _depth_of(here, looks, circle[top : top + rows])
        out = light[top : top + rows]
        colours = np.zeros((*solid.shape, 3 * len(colourings)), np.float32) if frame.transparent else out
        _light_band(scene, looks, top, colours)
        if frame.transparent:
            out[..., :-1], out[..., -1] = colours, solid
        else:
            out += backdrop[top : top + rows] * (1.0 - solid)[..., None]

    in_bands(frame.rows, band, band_rows)
    away = here.setting.falls_off * towards_dark(prepared.lamps)
    developed = _developed(light, circle, frame, here, away, job.seed, part_of(progress, 0.8, 1.0))
    return [replace(one, notes=ready.notes) for one in developed]


def design_offset(here: Stage, ready: SewnDesign) -> tuple[float, float]:
    """What takes places of the sewn part's flat cloth to design space, mm."""
    left, top, right, bottom = ready.sewn.plan.box_mm
    x, y = here.setting.place_mm
    return (left + right) / 2 - x, (top + bottom) / 2 - y


def thread_on(
    here: Stage,
    ready: SewnDesign,
    job: Job,
    thread_sets: Sequence[tuple[Thread, ...]],
    progress: Callable[[float], None],
) -> TurnedLayers:
    """The design on the garment's cloth, as far as the picture shows it."""
    left, top, right, bottom = ready.sewn.plan.box_mm
    offset = design_offset(here, ready)
    seen_box, scale = cloth_seen(here)
    # Of a design outside the picture a corner is drawn all the same: there is always something.
    first, last = (left - offset[0], top - offset[1]), (right - offset[0], bottom - offset[1])
    box = (*(side - AROUND_MM for side in first), *(side + AROUND_MM for side in last))
    x0, y0, x1, y1 = (
        float(np.clip(side, seen_box[k % 2], seen_box[k % 2 + 2])) for k, side in enumerate(box)
    )
    box = (x0, y0, max(x1, x0 + 1.0), max(y1, y0 + 1.0))
    wide, high = box[2] - box[0], box[3] - box[1]
    # Cloth that leans away is shown on fewer pixels in one direction: the mean of both will do.
    finest = OVERSAMPLE * max(scale, 1.0) * here.leaning**0.5
    per_mm = min(finest, float(np.sqrt(MOST_THREAD_PX / (wide * high))))
    window = Window(
        ((box[0] + box[2]) / 2 + offset[0], (box[1] + box[3]) / 2 + offset[1]),
        per_mm,
        # Even, so that pixels come in pairs.
        max(2 * int(high * per_mm / 2), 2),
        max(2 * int(wide * per_mm / 2), 2),
    )
    surface = turned_surface(here, box, offset)
    layers = draw_turned(
        ready.sewn,
        thread_sets=thread_sets,
        lobes=load_fibres([thread for threads in thread_sets for thread in threads]),
        load_fabric=load_fabric,
        job=job,
        window=window,
        surface=surface,
        progress=progress,
    )
    centre = (window.centre_mm[0] - offset[0], window.centre_mm[1] - offset[1])
    return replace(layers, window=replace(window, centre_mm=centre))


@dataclass(frozen=True, slots=True, eq=False)
class _Lit:
    """What bands are lit from."""

    here: Stage
    layers: TurnedLayers
    lamps: Lamps
    cloths: Cloths


def _light_band(scene: _Lit, looks: Looks, top: int, out: NDArray[np.float32]) -> None:
    seen, layers, lamps = scene.here.seen, scene.layers, scene.lamps
    camera = np.array([*seen.axes.ravel(), seen.px, seen.cols / 2, top - seen.rows / 2])
    light_looks(
        looks.pixel,
        looks.share,
        looks.part,
        looks.values,
        looks.uv,
        looks.count,
        scene.cloths.light(looks, camera, seen.cols),
        scene.cloths.colour,
        scene.cloths.material,
        lamps.rows,
        lamps.dome,
        lamps.card,
        camera,
        layers.thread_linear.reshape(*layers.covered.shape, -1),
        layers.cloth_share,
        layers.pressed,
        np.array([*layers.window.centre_mm, layers.window.px_per_mm]),
        out,
    )


def _depth_of(here: Stage, looks: Looks, circle: NDArray[np.float32]) -> NDArray[np.float32]:
    """Share of each pixel that something stands in; fills in its circle of confusion, negative behind
    the plane of focus."""
    seen = here.seen
    stands = looks.part >= 0
    pixel, share = looks.pixel[stands], looks.share[stands]
    size = circle.size
    solid = np.bincount(pixel, share, size).reshape(circle.shape).astype(np.float32)
    # Where several parts meet in a pixel it is as soft as the foremost: their outline is not smeared over
    # what is blurred behind. Looks come pixel by pixel.
    first = np.flatnonzero(np.diff(pixel, prepend=-1))
    signed = np.zeros(size)
    if len(first):
        nearest = np.maximum.reduceat(looks.nearness[stands], first)
        signed[pixel[first]] = seen.blur_px * (seen.focus_mm * nearest - 1.0)
    there = solid.ravel() > 0
    # Past everything the backdrop is as soft as what stands farthest before it.
    signed[~there] = -abs(signed[there]).max() if there.any() else 0.0
    circle[:] = signed.reshape(circle.shape)
    return solid


def _developed(
    light: NDArray[np.float32],
    circle: NDArray[np.float32],
    frame: Frame,
    here: Stage,
    away: NDArray[np.float64],
    seed: int,
    progress: Callable[[float], None],
) -> list[Picture]:
    """Through the lens onto the sensor, and from its light to sRGB: each three channels a picture."""
    setting, cut_out = here.setting, int(frame.transparent)
    pixels = [np.empty((frame.rows, frame.cols, 3 + cut_out), np.uint8) for _ in range(light.shape[2] // 3)]
    strength = setting.vignette if frame.vignette is None else frame.vignette
    picture, curve = spreading(light, circle), tone_curve(setting.exposure)

    def band(top: int) -> None:
        progress(top / frame.rows)
        last = min(top + BAND_ROWS, frame.rows)
        noise = grain_of(np.random.default_rng([seed, 77, top]), last - top, frame.cols)
        alpha = light.shape[2] - 1 if cut_out else -1
        for row in range(top, last, FEW_ROWS):
            some = slice(row, min(row + FEW_ROWS, last))
            spread = np.empty((some.stop - row, *light.shape[1:]), np.float32)
            spread_rows(picture, row, some.stop, spread)
            place, grain = np.array([row, frame.rows, frame.cols]), noise[row - top : some.stop - top]
            for which, one in enumerate(pixels):
                develop(
                    spread,
                    3 * which,
                    alpha,
                    strength,
                    away,
                    place,
                    grain,
                    curve,
                    GRAIN,
                    one[some],
                )

    in_bands(frame.rows, band)
    dpi = here.seen.px / here.seen.focus_mm * MM_PER_INCH
    return [Picture(sharpened(one), dpi) for one in pixels]
