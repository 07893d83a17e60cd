"""How long a film takes beside encoding its finished frames alone: python -m tests.bench.film.

The crest as MP4, 600 frames of 1080 x 1080 pixels; kernels, cloth and tables are ready. Reading, sewing,
drawing and encoding count. The same frames, kept in a file that is mapped into memory, are then encoded
alone. Seconds on the clock and of the processors, the encoder's included: those count alike on a busy
machine and on an idle one.
"""

from __future__ import annotations

import resource
import tempfile
import time
from collections.abc import Callable, Iterable
from pathlib import Path
from unittest.mock import patch

import numpy as np

from render.animation import Film, FilmOrder, Pace, film_of
from render.animation.frames import frames_of, key_pictures
from render.materials.job import make_job
from render.read import read_design
from render.sew import sew
from render.write.films import Shape
from render.write.video import film_file

EXAMPLES = Path(__file__).parents[2] / "examples"
SIDE_PX, FPS, SECONDS = 1080, 30.0, 20.0
MEMORY_EVERY = 100  # frames


def main() -> None:
    """Make the film, encode its frames alone, print both and how much memory was held on the way."""
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        warm = film_of_crest(6.0)
        encode(folder / "warm.mp4", list(map(np.copy, key_pictures(warm)))[:2])
        kept = np.memmap(folder / "frames", np.uint8, "w+", shape=(round(SECONDS * FPS), SIDE_PX, SIDE_PX, 3))
        memory_mb: list[float] = []

        def keeping(film: Film) -> Iterable[np.ndarray]:
            for number, pixels in enumerate(frames_of(film)):
                kept[number] = pixels
                if number % MEMORY_EVERY == 0:
                    memory_mb.append(held_mb())
                yield pixels

        films: list[Film] = []
        sewn = timed(lambda: films.append(film_of_crest(SECONDS)))
        drawn = timed(lambda: encode(folder / "film.mp4", keeping(films[0])))
        alone = timed(lambda: encode(folder / "alone.mp4", kept))
    whole = tuple(a + b for a, b in zip(sewn, drawn, strict=True))
    print("| | seconds | of the processors |\n|---|---|---|")
    for name, (clock_s, processors_s) in (
        ("reading and sewing", sewn),
        ("drawing and encoding", drawn),
        ("encoding alone", alone),
    ):
        print(f"| {name} | {clock_s:.1f} | {processors_s:.1f} |")
    print(f"| all / encoding alone | {whole[0] / alone[0]:.2f} | {whole[1] / alone[1]:.2f} |")
    print(f"\nMB held at every {MEMORY_EVERY}th frame: " + ", ".join(f"{mb:.0f}" for mb in memory_mb))


def film_of_crest(seconds: float) -> Film:
    """The crest read, sewn in earnest, though it may be on disk, and laid out."""
    order = FilmOrder(size_px=(SIDE_PX, SIDE_PX), fps=FPS, pace=Pace(seconds=seconds))
    with patch("render.preview.cached_sew", sew):
        return film_of(read_design(EXAMPLES / "crest.dst"), make_job(EXAMPLES / "crest.job.toml"), order)


def encode(path: Path, frames: Iterable[np.ndarray]) -> None:
    with film_file(path, Shape(SIDE_PX, SIDE_PX, FPS)) as writer:
        for pixels in frames:
            writer.add(pixels)


def timed(work: Callable[[], object]) -> tuple[float, float]:
    """Seconds on the clock and of the processors that the work and its processes took."""
    began, used = time.perf_counter(), _processors_s()
    work()
    return time.perf_counter() - began, _processors_s() - used


def _processors_s() -> float:
    each = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return sum(usage.ru_utime + usage.ru_stime for usage in each)


def held_mb() -> float:
    """Memory of this process alone, without files that are mapped into it (Linux)."""
    lines = Path("/proc/self/status").read_text(encoding="ascii").splitlines()
    return next(float(line.split()[1]) / 1024 for line in lines if line.startswith("RssAnon"))


if __name__ == "__main__":
    main()
