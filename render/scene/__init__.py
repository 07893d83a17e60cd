"""Scenes: the sewn design on the garment, as a shop shows it to customers."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from render.errors import UsageError
from render.materials.fabrics import load_fabric
from render.materials.lights import load_light
from render.model import Command
from render.plan.turn import turned
from render.preview import sew_design
from render.scene.aim import aimed
from render.scene.beside import beside_flat
from render.scene.frame import SHAPES, frame_of, set_up
from render.scene.garments import garment
from render.scene.picture import draw_scene
from render.scene.sets import Colouring, coloured

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from render.model import Design, Job, Picture
    from render.scene.frame import Frame
    from render.scene.photo import OnPhoto
    from render.scene.sets import ColourSet
    from render.scene.setting import Setting

__all__ = ["SHAPES", "Scene", "draw_on", "draw_scenes", "frame_of", "scene_for"]


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """A design on one garment: how it is turned, the setting, and the job with its cloth and light."""

    design: Design
    job: Job
    setting: Setting
    rotate_deg: float
    mirror: bool
    notes: tuple[str, ...]


def scene_for(
    design: Design,
    job: Job,
    name: str,
    *,
    own_fabric: bool = False,
    own_light: bool = False,
    rotate_deg: float = 0.0,
    mirror: bool = False,
) -> Scene:
    """The design, mirrored and then turned, on the garment of this name, of the garment's usual cloth and in
    its usual light unless the job's own are asked for. Raises UsageError."""
    points = design.xy_mm[design.command == Command.STITCH]
    points = points if len(points) else np.zeros((1, 2))
    points = turned(points, (points.min(0) + points.max(0)) / 2, rotate_deg, mirror=mirror)
    size = tuple(np.ptp(points, axis=0).tolist())
    setting = garment(name, size)
    if setting.aims:
        setting = aimed(setting, points - (points.min(0) + points.max(0)) / 2)
    if not own_fabric:
        job = replace(job, fabric=load_fabric(setting.fabric))
    if not own_light:
        job = replace(job, light=load_light(setting.light))
    if setting.lay is not None:
        setting = replace(setting, parts=setting.lay(job.fabric, job.seed))
    notes = []
    if size[0] > setting.room_mm[0] or size[1] > setting.room_mm[1]:
        notes.append(
            f"the design is {size[0]:.0f} x {size[1]:.0f} mm, more than the {setting.room_mm[0]:.0f} x "
            f"{setting.room_mm[1]:.0f} mm that are usual on {name}"
        )
    return Scene(design, job, setting, rotate_deg, mirror, tuple(notes))


def draw_scenes(
    scene: Scene,
    frame: Frame,
    sets: Sequence[ColourSet] = (),
    *,
    with_flat: bool = False,
    progress: Callable[[float], None] | None = None,
) -> list[Picture]:
    """The scene in the job's own colours, or once for each set; `with_flat` beside the design as it lies
    flat. `progress` is told the share done, in [0, 1], from several threads. Raises InputError or
    UsageError."""
    setting = scene.setting
    if frame.transparent and not setting.cut_out:
        raise UsageError(
            f"{setting.name} fills its picture, so there is nothing to cut out: leave out --transparent"
        )
    # While the design is sewn the garment is set up.
    with ThreadPoolExecutor(1) as pool:
        prepared = pool.submit(set_up, setting, scene.job, frame)
        ready = sew_design(scene.design, scene.job, rotate_deg=scene.rotate_deg, mirror=scene.mirror)
    notes = scene.notes
    if frame.backdrop_srgb is not None and not any(part.ground for part in setting.parts):
        notes += (f"{setting.name} fills its picture: hardly any of the background is seen",)
    ready = replace(ready, notes=notes + ready.notes)
    garment_srgb = scene.job.fabric_colour_srgb or setting.colour_srgb
    base = Colouring("", ready.threads, garment_srgb, setting.trim_srgb)
    colourings = [coloured(base, one) for one in sets] or [base]
    pictures = draw_scene(ready, scene.job, prepared.result(), colourings, progress)
    if not with_flat:
        return pictures
    return [
        beside_flat(
            worn,
            replace(ready, threads=one.threads),
            replace(scene.job, fabric_colour_srgb=one.garment_srgb),
            setting,
        )
        for worn, one in zip(pictures, colourings, strict=True)
    ]


def draw_on(
    design: Design,
    job: Job,
    target: OnPhoto,
    sets: Sequence[ColourSet] = (),
    *,
    rotate_deg: float = 0.0,
    mirror: bool = False,
    progress: Callable[[float], None] | None = None,
) -> list[Picture]:
    """The design on a photograph in the job's own thread colours, or once for each set, whose garment
    colours say nothing here. Raises InputError or UsageError."""
    from render.scene.photo import draw_on_photo

    ready = sew_design(design, job, rotate_deg=rotate_deg, mirror=mirror)
    base = Colouring("", ready.threads, (0.5,) * 3, (0.5,) * 3)
    thread_sets = [coloured(base, one).threads for one in sets] or [ready.threads]
    return draw_on_photo(ready, job, target, thread_sets, progress)
