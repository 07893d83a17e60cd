"""Draw the pictures of docs/gallery.md: python examples/gallery.py [FOLDER] [PART ...]."""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from designs.samplers import angle_wheel, medallion, sampler, three_samplers
from digitize.files import stitch_file
from digitize.sewing import Sewing
from render import Job, make_job, read_design
from render.materials.fabrics import fabric_names, load_fabric
from render.materials.fibres import thread_kinds
from render.materials.lights import light_names
from render.materials.threads import make_thread
from render.model import BlockTreatment, Design, Window
from render.preview import draw_sewn, sew_design
from render.scene import draw_scenes, frame_of, scene_for

HERE = Path(__file__).parent
DPI = 150.0
PX_PER_MM = DPI / 25.4
APART_PX = 6
QUALITY = 84
# On every cloth: light, bright and dark.
THREADS = (
    ((0.953, 0.914, 0.824), "rayon"),
    ((0.72, 0.13, 0.15), "trilobal-polyester"),
    ((0.09, 0.12, 0.26), "rayon"),
)
WHEEL_COLOUR = (0.78, 0.6, 0.22)
WHEEL_COLOURS = {"neon": (1.0, 0.18, 0.58), "glow-in-the-dark": (0.89, 0.94, 0.81)}  # where gold is none
Pixels = NDArray[np.uint8]
Crop = tuple[float, float, float, float]  # middle, width and height, mm from the middle of the design


@cache
def design_of(make: Callable[[], Sewing]) -> Design:
    """A made design, read back from a stitch file as any other."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "piece.exp"
        path.write_bytes(stitch_file(make(), "exp", "piece"))
        return read_design(path)


def drawn(design: Design, job: Job, crops: Sequence[Crop], px_per_mm: float) -> list[Pixels]:
    """Parts of the sewn design."""
    ready = sew_design(design, job)
    left, top, right, bottom = ready.sewn.plan.box_mm
    middle = ((left + right) / 2, (top + bottom) / 2)
    windows = [
        Window((middle[0] + x, middle[1] + y), px_per_mm, round(high * px_per_mm), round(wide * px_per_mm))
        for x, y, wide, high in crops
    ]
    return [picture.pixels for picture in draw_sewn(ready, job, windows)]


def row(parts: Sequence[Pixels]) -> Pixels:
    """Pictures of one height side by side, a white strip between."""
    gap = np.full((parts[0].shape[0], APART_PX, 3), 255, np.uint8)
    spaced = [part for picture in parts for part in (picture, gap)]
    return np.concatenate(spaced[:-1], axis=1)


def rows(parts: Sequence[Pixels], across: int) -> Pixels:
    """Pictures of one size in rows of `across`; what is missing at the end is white."""
    blank = np.full_like(parts[0], 255)
    filled = [*parts, *[blank] * (-len(parts) % across)]
    lines = [row(filled[at : at + across]) for at in range(0, len(filled), across)]
    gap = np.full((APART_PX, lines[0].shape[1], 3), 255, np.uint8)
    return np.concatenate([part for line in lines for part in (line, gap)][:-1])


def save(folder: Path, name: str, pixels: Pixels) -> None:
    """Write one picture and say where it is."""
    Image.fromarray(pixels).save(folder / f"{name}.jpg", quality=QUALITY, optimize=True)
    print(folder / f"{name}.jpg")


def in_thread(job: Job, colour: tuple[float, float, float], kind: str) -> Job:
    """The job in one thread, of a colour in sRGB."""
    return replace(job, threads=(make_thread(colour, kind=kind),))


def fabrics(folder: Path) -> None:
    """Every cloth with three threads at 300 dpi, and the first one eight times as large."""
    design = design_of(sampler)
    for number, name in enumerate(fabric_names()):
        # No two pieces of cloth are alike, nor two sewn out: each panel has a seed of its own.
        jobs = [make_job(fabric=name, finish="cleaned", seed=10 * number + k) for k in range(len(THREADS))]
        cells = [
            drawn(design, in_thread(job, *thread), [(0.0, 0.0, 27.0, 27.0)], 2 * PX_PER_MM)[0]
            for job, thread in zip(jobs, THREADS, strict=True)
        ]
        side = cells[0].shape[0]
        zoom_mm = side / (16 * PX_PER_MM)
        (close,) = drawn(
            design, in_thread(jobs[1], *THREADS[1]), [(3.0, 1.0, zoom_mm, zoom_mm)], 16 * PX_PER_MM
        )
        save(folder, f"fabric-{name}", row([*cells, close[:side, :side]]))


def photographed(folder: Path) -> None:
    """Every cloth with the three threads side by side, as a camera sees it on a table by a window."""
    design = design_of(three_samplers)
    threads = tuple(make_thread(colour, kind=kind) for colour, kind in THREADS)
    for number, name in enumerate(fabric_names()):
        job = make_job(fabric=name, finish="cleaned", seed=1000 + number)
        job = replace(job, threads=threads, fabric_colour_srgb=load_fabric(name).colour_srgb)
        scene = scene_for(design, job, "flat-lay", own_fabric=True)
        (picture,) = draw_scenes(scene, frame_of("wide", 1400))
        save(folder, f"photographed-{name}", picture.pixels)


def medallion_job(**facts: Any) -> Job:
    """A job in the medallion's own threads."""
    colours = ((0.08, 0.16, 0.3), (0.83, 0.63, 0.23), (0.95, 0.91, 0.82), (0.7, 0.2, 0.17))
    return replace(make_job(**facts), threads=tuple(make_thread(colour) for colour in colours))


def lights(folder: Path) -> None:
    """The medallion under every light, on piqué."""
    cells = [
        drawn(
            design_of(medallion),
            medallion_job(fabric="pique", fabric_colour="#8b8d8f", light=name, finish="cleaned"),
            [(0.0, 0.0, 27.0, 27.0)],
            2 * PX_PER_MM,
        )[0]
        for name in light_names()
    ]
    save(folder, "lights", rows(cells, 3))


def wheels(folder: Path) -> None:
    """Every kind of thread as a wheel of wedges under the window light, and a part of it closely."""
    cells, close = [], []
    for number, kind in enumerate(thread_kinds()):
        job = make_job(
            fabric="twill", fabric_colour="#d8d3c6", light="window", finish="cleaned", seed=100 + number
        )
        ready = in_thread(job, WHEEL_COLOURS.get(kind, WHEEL_COLOUR), kind)
        cells += drawn(design_of(angle_wheel), ready, [(0.0, 0.0, 34.0, 34.0)], 1.4 * PX_PER_MM)
        close += drawn(design_of(angle_wheel), ready, [(9.0, 2.5, 4.25, 4.25)], 11.2 * PX_PER_MM)
    save(folder, "wheels", rows(cells, 4))
    save(folder, "wheels-close", rows(close, 4))


def jumps(folder: Path) -> None:
    """A wordmark off a machine without a trimmer, and with its jump threads cut."""
    design = read_design(HERE / "wordmark.pes")
    threads = str(HERE / "wordmark.threads.toml")
    cells = []
    for finish in ("off-machine", "cleaned"):
        job = make_job(
            fabric="jersey", threads=threads, machine="no-trimmer", finish=finish, fabric_colour="#7c8793"
        )
        cells += drawn(design, job, [(-8.0, 0.0, 72.0, 30.0)], 2 * PX_PER_MM)
    save(folder, "jumps", rows(cells, 1))


def pieces(folder: Path) -> None:
    """Appliqué under its cover stitch; a letter over foam on a cap; terry as it comes off the machine with
    a film on it, and with the film gone."""
    job = make_job(str(HERE / "applique-oar.job.toml"), finish="cleaned")
    applique = read_design(HERE / "applique-oar.pes")
    save(folder, "applique", drawn(applique, job, [(-4.0, 0.0, 68.0, 30.0)], 2 * PX_PER_MM)[0])
    crop, design = [(0.0, 0.0, 27.0, 27.0)], design_of(medallion)
    cap = medallion_job(fabric="cap-front", finish="cleaned")
    foam = replace(cap, blocks={2: BlockTreatment("foam", height_mm=2.0)})
    terry = medallion_job(fabric="terry", fabric_colour="#2f5d66", finish="off-machine")
    film = replace(terry, topping="film")
    bare = replace(film, finish="cleaned")
    save(
        folder,
        "pieces",
        row([drawn(design, one, crop, 2 * PX_PER_MM)[0] for one in (cap, foam, film, bare)]),
    )


def closely(folder: Path) -> None:
    """The crest at 300 dpi, and three places of it eight times as large."""
    design = read_design(HERE / "crest.pes")
    job = make_job(fabric="twill", threads=str(HERE / "crest.threads.toml"), finish="cleaned")
    (whole,) = drawn(design, job, [(0.0, 0.0, 92.0, 92.0)], 2 * PX_PER_MM)
    save(folder, "crest", whole)
    places = [(-17.0, -12.0), (0.0, 36.0), (2.0, -9.0)]
    cells = drawn(design, job, [(x, y, 4.4, 4.4) for x, y in places], 16 * PX_PER_MM)
    save(folder, "crest-close", row(cells))


PARTS: dict[str, Callable[[Path], Any]] = {
    "fabrics": fabrics,
    "photographed": photographed,
    "lights": lights,
    "wheels": wheels,
    "jumps": jumps,
    "pieces": pieces,
    "closely": closely,
}


def main(folder: Path, parts: Sequence[str]) -> None:
    """Draw the parts that are named, or all."""
    folder.mkdir(parents=True, exist_ok=True)
    for part in parts or PARTS:
        PARTS[part](folder)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE.parent / "docs" / "gallery", sys.argv[2:])
