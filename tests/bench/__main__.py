"""How long a picture takes, stage by stage: python -m tests.bench [STITCHES ...].

Each size runs in a process of its own with warm caches, so that its peak memory is its own.
The flat lines are Pillow's, 0.4 mm wide, of the same stitches into a canvas of the same size.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

Result = TypeVar("Result")

ROOT = Path(__file__).parents[2]
SIZES = (10_000, 100_000)
DPI = 300
LINE_MM = 0.4
STAGES = ("read", "plan", "sew", "stack", "cloth", "draw", "compose", "write", "inspect")


def main() -> None:
    """Measure all sizes, then a first run against a later one, and print the tables."""
    sizes = [int(a) for a in sys.argv[1:]] or list(SIZES)
    with tempfile.TemporaryDirectory() as folder:
        files = {count: write_design(Path(folder) / f"{count}.dst", count) for count in sizes}
        rows = {count: _in_child("--stages", str(path)) for count, path in files.items()}
        _print_stages(rows)
        _print_starts(files[sizes[0]], Path(folder))


def write_design(path: Path, count: int) -> Path:
    """A sheet of badges, each a fill in a satin ring on its underlay, `count` stitches in all."""
    import numpy as np
    from pyembroidery import COLOR_CHANGE, END, JUMP, STITCH, TRIM, EmbPattern, write

    pattern = EmbPattern()
    parts = _badge()
    size = sum(len(p) for p in parts)
    across = int(np.ceil(np.sqrt(count / size)))
    left = count
    badge = 0
    while left > 0:
        centre = (np.array([badge % across, badge // across]) - (across - 1) / 2) * 260
        for points in parts:
            taken = np.rint(points[: left + 1] * 10 + centre).astype(int).tolist()
            if len(taken) > 1:
                pattern.add_command(TRIM)
                pattern.add_stitch_absolute(JUMP, *taken[0])
                for x, y in taken:
                    pattern.add_stitch_absolute(STITCH, x, y)
            left = max(left - len(taken) + 1, 0)
        badge += 1
        if badge % 5 == 0 and left:
            pattern.add_command(COLOR_CHANGE)
    pattern.add_command(END)
    write(pattern, str(path))
    return path


def _badge() -> list[Any]:
    """Needle points in mm of one badge 24 mm wide."""
    import numpy as np

    rows: list[tuple[float, float]] = []
    for row, y in enumerate(np.arange(-9.6, 9.7, 0.4)):
        half = float(np.sqrt(100 - y * y))
        xs = [-half, *np.arange(-half + 1 + row % 3, half - 0.5, 4.0), half]
        rows += [(x, float(y)) for x in (xs if row % 2 == 0 else xs[::-1])]
    around = np.linspace(0, 2 * np.pi, 315)
    radius = 10.5 + 1.2 * np.where(np.arange(315) % 2, 1, -1)
    middle = np.linspace(0, 2 * np.pi, 27)
    return [
        np.array(rows),
        np.stack([10.5 * np.cos(middle), 10.5 * np.sin(middle)], 1),
        np.stack([radius * np.cos(around), radius * np.sin(around)], 1),
    ]


def measure(path: Path) -> dict[str, Any]:
    """Seconds of each stage for one file, with kernels and cloth ready; and Pillow's lines."""
    from render.compose import compose, window_for
    from render.draw.ground import ground_for, raised_base
    from render.draw.stack import stack_strands
    from render.draw.strands import strands_of
    from render.draw.tiles import draw_layers
    from render.inspect import inspect
    from render.inspection import inspect_design, piece_of
    from render.materials.fabrics import load_fabric
    from render.materials.fibres import load_fibres
    from render.materials.job import make_job
    from render.materials.stabilisers import holding_for
    from render.materials.threads import threads_for
    from render.model import View
    from render.plan import plan
    from render.preview import SewnDesign, preview
    from render.read import read_design
    from render.sew import sew
    from render.write.picture import write_picture

    # Loads kernels and cloth.
    small = read_design(write_design(path.with_suffix(".warm.dst"), 400))
    preview(small)
    inspect_design(small)
    seconds: dict[str, float] = {}

    def timed(stage: str, work: Callable[[], Result]) -> Result:
        began = time.perf_counter()
        result = work()
        seconds[stage] = time.perf_counter() - began
        return result

    design = timed("read", lambda: read_design(path))
    job = make_job()
    planned = timed("plan", lambda: plan(design, job.machine))
    sewn = timed("sew", lambda: sew(planned, holding_for(job, planned.box_mm)))
    threads, _ = threads_for(len(planned.blocks), design.colours_srgb, (), {})
    window = window_for(planned.box_mm, View(dpi=DPI))
    ground = timed("cloth", lambda: ground_for(sewn, job, window.px_per_mm, load_fabric))

    def stack() -> Any:
        strands = strands_of(sewn, threads, job, ground.hidden)
        return strands, stack_strands(strands, raised_base(ground, strands), bedding=ground.bedding)

    strands, stacked = timed("stack", stack)
    layers = timed(
        "draw",
        lambda: draw_layers(
            strands, stacked, ground, threads=threads, lobes=load_fibres(), light=job.light, window=window
        ),
    )
    picture = timed("compose", lambda: compose(layers, window, transparent=False))
    timed("write", lambda: write_picture(picture, path.with_suffix(".png"), force=True))
    ready = SewnDesign(sewn, threads, holding_for(job, planned.box_mm), ())
    timed("inspect", lambda: inspect(piece_of(ready, job)))
    flat_lines(planned, window)
    flat = timed("flat lines", lambda: flat_lines(planned, window))
    return {
        "stitches": len(planned.start_mm),
        "pixels": window.rows * window.cols,
        "canvas": list(flat.size),
        "seconds": seconds,
        "peak_mb": _peak_mb(),
    }


def flat_lines(planned: Any, window: Any) -> Any:
    """The stitches as Pillow draws lines."""
    import numpy as np
    from PIL import Image, ImageDraw

    canvas = Image.new("RGB", (window.cols, window.rows), "white")
    pen = ImageDraw.Draw(canvas)
    middle = np.array([window.cols, window.rows]) / 2
    ends = np.concatenate([planned.start_mm, planned.end_mm], 1) - np.tile(window.centre_mm, 2)
    lines = (ends * window.px_per_mm + np.tile(middle, 2)).tolist()
    width = round(LINE_MM * window.px_per_mm)
    colours = ("crimson", "navy", "gold", "green")
    for line, block in zip(lines, planned.colour_block.tolist(), strict=True):
        pen.line(line, fill=colours[block % 4], width=width)
    return canvas


def _peak_mb() -> float | None:
    try:
        import resource
    except ImportError:  # Windows
        return None
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak / (2**20 if sys.platform == "darwin" else 2**10)


def _in_child(*arguments: str) -> dict[str, Any]:
    command = [sys.executable, "-m", "tests.bench", *arguments]
    done = subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True)
    result: dict[str, Any] = json.loads(done.stdout)
    return result


def _print_stages(rows: dict[int, dict[str, Any]]) -> None:
    print(f"Seconds at {DPI} dots per inch, {os.cpu_count()} cores, caches warm")
    print(f"{'stitches':>10} {'Mpx':>6}" + "".join(f"{s:>9}" for s in STAGES) + f"{'all':>9}")
    for row in rows.values():
        took = row["seconds"]
        every = [took[s] for s in STAGES]
        numbers = "".join(f"{t:9.2f}" for t in [*every, sum(every)])
        print(f"{row['stitches']:>10} {row['pixels'] / 1e6:6.1f}{numbers}")
    print()
    print("Against the same stitches as flat lines by Pillow, into the same canvas")
    print(f"{'stitches':>10} {'lines s':>9} {'drawing / lines':>16} {'peak MB':>9}")
    for row in rows.values():
        took = row["seconds"]
        drawing = sum(took[s] for s in ("stack", "cloth", "draw", "compose"))
        peak = "?" if row["peak_mb"] is None else f"{row['peak_mb']:.0f}"
        ratio = drawing / took["flat lines"]
        print(f"{row['stitches']:>10} {took['flat lines']:9.3f} {ratio:16.1f} {peak:>9}")
    print()


def _print_starts(path: Path, folder: Path) -> None:
    """The whole command, from an empty kernel cache and an empty cloth cache, and again."""
    empty = folder / "caches"
    names = ("NUMBA_CACHE_DIR", "XDG_CACHE_HOME", "LOCALAPPDATA", "HOME", "TMPDIR")
    places = {name: str(empty / name.lower()) for name in names}
    for place in places.values():
        Path(place).mkdir(parents=True)
    command = [sys.executable, "-c", "from render.cli import main; main()"]
    command += ["draw", str(path), "-o", str(folder / "start.png"), "--force"]
    seconds = []
    for _ in range(2):
        began = time.perf_counter()
        subprocess.run(command, cwd=ROOT, env={**os.environ, **places}, check=True, capture_output=True)
        seconds.append(time.perf_counter() - began)
    print("The whole command in seconds: first run (kernels compiled, cloth made), later runs, ratio")
    print(f"{seconds[0]:10.1f} {seconds[1]:9.1f} {seconds[0] / seconds[1]:9.1f}")


if __name__ == "__main__":
    if sys.argv[1:2] == ["--stages"]:
        print(json.dumps(measure(Path(sys.argv[2]))))
    else:
        main()
