"""Where the time of a shaded picture goes: python -m tests.bench.drawing [--million] [FOLDER].

Each size runs in a process of its own, with kernels, cloth and sheen ready; all of them three times, one
after the other, and of each the run in the middle is shown, by its time against Pillow's lines. Seconds are
those of the processors, which count alike on a busy machine and on an idle one but for what other work takes
of caches and clock; `clock` is what passed on two cores meanwhile. Prints the tables and draws them, both
axes in powers of ten, into FOLDER (docs). `--million` adds a million stitches, once.

Memory is the peak of the whole way, from the file on, above the peak after importing and drawing a small
piece; beside it what 80 bytes a pixel and 300 a stitch come to.
"""

from __future__ import annotations

import gc
import json
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

STITCHES = (1_000, 3_000, 10_000, 30_000, 100_000, 200_000)
MILLION = 1_000_000
MOST_RECORDS = 1_100_000  # stitches, jumps and trims
PIXEL_BYTES, STITCH_BYTES = 80, 300
RESOLUTIONS = (150, 200, 300, 450, 600)
RUNS = 3
DPI, DPI_STITCHES = 300, 10_000
ROOT = Path(__file__).parents[2]
# Bytes a pixel that are written and read at least once, where they do not stay in the caches: layers of
# light, and for each of four sub-pixels a height and a strand; and the finished pixel.
FLOOR_BYTES = 2 * 32 + 2 * 4 * 8 + 3
STAGES = ("stack", "cloth", "draw")
LIT = ("rasterise", "lay_ground", "light_on_cloth", "merge_blocks", "key_shadow", "sky_open", "shade")
PARTS = ("turned_aside", "drawn_tight", "prepare", *LIT, "paint")


def main(folder: Path, *, million: bool) -> None:
    """Measure, print, draw."""
    from tests.bench.sewing import draw

    if not folder.is_dir():
        sys.exit(f"{folder} is no folder: name one that is there")
    sizes = [(count, DPI) for count in STITCHES] + [(DPI_STITCHES, dpi) for dpi in RESOLUTIONS]
    runs = [[_in_child(*size) for size in sizes] for _ in range(RUNS)]
    rows = [sorted(of_size, key=_against_lines)[RUNS // 2] for of_size in zip(*runs, strict=True)]
    by_stitches, by_dpi = rows[: len(STITCHES)], rows[len(STITCHES) :]
    by_stitches += [_in_child(MILLION, DPI)] if million else []
    columns = ("stitches", "megapixels", *STAGES, "all", "clock", "lines", "all / 2 / lines", "MB", "of MB")
    print(f"| {' | '.join(columns)} |")
    print("|---" * len(columns) + "|")
    for row in by_stitches:
        _print_row(row)
    _print_line("stitches", [row["stitches"] for row in by_stitches], [_all(row) for row in by_stitches])
    print("\n| dpi | megapixels | seconds | nanoseconds a pixel |\n|---|---|---|---|")
    for dpi, row in zip(RESOLUTIONS, by_dpi, strict=True):
        took = _all(row)
        print(f"| {dpi} | {row['pixels'] / 1e6:.2f} | {took:.2f} | {1e9 * took / row['pixels']:.0f} |")
    fine = [row for dpi, row in zip(RESOLUTIONS, by_dpi, strict=True) if dpi >= DPI]
    _print_line("pixels", [row["pixels"] for row in fine], [_all(row) for row in fine])
    last = by_stitches[-1]
    print(
        f"\n| stage of drawing {last['stitches']:,} stitches | seconds | nanoseconds a pixel |\n|---|---|---|"
    )
    for part in PARTS:
        took = last["parts"][part]
        print(f"| {part} | {took:.2f} | {1e9 * took / last['pixels']:.1f} |")
    floor = last["pixels"] * FLOOR_BYTES / last["bytes_per_s"]
    print(f"\n{last['bytes_per_s'] / 1e9:.1f} GB/s copied by one core: a floor of {floor:.2f} s")
    points = [(row["stitches"], _all(row)) for row in by_stitches]
    draw(folder / "drawing-by-stitches.png", "processor seconds by stitches", points)
    points = [(row["pixels"], _all(row)) for row in by_dpi]
    draw(folder / "drawing-by-pixels.png", "processor seconds by pixels", points)


def _print_line(of: str, amounts: list[int], seconds: list[float]) -> None:
    """The straight line that is least far off, as a share of what was measured, and how far that is.

    It does not begin at nothing: more pixels do not make more of what each stitch takes.
    """
    import numpy as np

    each, at_all = np.polyfit(amounts, seconds, 1, w=1.0 / np.array(seconds))
    off = np.abs(np.polyval((each, at_all), amounts) / seconds - 1.0).max()
    line = f"{at_all:.3f} s and {1e6 * each:.3f} microseconds for each of the {of}"
    print(f"\n{line}; the farthest is {100 * off:.0f} % off")


def _all(row: dict[str, Any]) -> float:
    return sum(row["seconds"][stage] for stage in STAGES)


def _against_lines(row: dict[str, Any]) -> float:
    return _all(row) / float(row["seconds"]["lines"])


def _print_row(row: dict[str, Any]) -> None:
    stages = " | ".join(f"{row['seconds'][stage]:.2f}" for stage in STAGES)
    took, lines = _all(row), row["seconds"]["lines"]
    print(
        f"| {row['stitches']:,} | {row['pixels'] / 1e6:.1f} | {stages} | {took:.2f} "
        f"| {row['clock']:.2f} | {lines:.3f} | {_against_lines(row) / 2:.1f} | {row['mb']:.0f} "
        f"| {(PIXEL_BYTES * row['pixels'] + STITCH_BYTES * row['stitches']) / 2**20:.0f} |"
    )


def measure(count: int, dpi: float) -> dict[str, Any]:
    """Processor seconds by stage and part of one picture, and of Pillow's flat lines."""
    import numpy as np

    from render.compose import blank, paint, window_for
    from render.draw import layers, pucker
    from render.draw.fuzz import with_fuzz
    from render.draw.ground import ground_for, raised_base
    from render.draw.stack import stack_strands
    from render.draw.strands import strands_of
    from render.draw.tiles import draw_parts
    from render.draw.uneven import drawn_tight, turned_aside
    from render.materials.fabrics import load_fabric
    from render.materials.fibres import load_fibres
    from render.materials.job import make_job
    from render.materials.stabilisers import holding_for
    from render.materials.threads import threads_for
    from render.model import View
    from render.plan import plan
    from render.preview import preview
    from render.read import read_design
    from render.sew import sew
    from tests.bench.__main__ import _peak_mb, flat_lines, write_design

    # Ridges belong to a design: none are found that an earlier run has kept.
    vars(pucker)["kept"] = lambda *_, make, **__: make()
    with tempfile.TemporaryDirectory() as made:
        path = write_design(Path(made) / "b.dst", count)
        preview(read_design(write_design(Path(made) / "warm.dst", 400)), view=View(dpi=dpi))
        before_mb = _peak_mb() or 0.0
        design = read_design(path, max_stitches=MOST_RECORDS)
    job = make_job()
    planned = plan(design, job.machine)
    sewn = sew(planned, holding_for(job, planned.box_mm))
    threads, _ = threads_for(len(planned.blocks), design.colours_srgb, (), {})
    window = window_for(planned.box_mm, View(dpi=dpi))
    # Or Python would look through all that numba holds, at any time, in 0.05 s.
    gc.collect()
    gc.freeze()
    seconds: Counter[str] = Counter()
    clock: dict[str, float] = {}
    parts: Counter[str] = Counter()
    guard = threading.Lock()

    def timed(name: str, work: Callable[..., Any]) -> Callable[..., Any]:
        def run(*arguments: Any, **options: Any) -> Any:
            began = time.thread_time()
            result = work(*arguments, **options)
            with guard:
                parts[name] += time.thread_time() - began
            return result

        return run

    for name in LIT:
        setattr(layers, name, timed(name, getattr(layers, name)))

    def stage(name: str, work: Callable[[], Any]) -> Any:
        began, by_clock = time.process_time(), time.perf_counter()
        result = work()
        seconds[name] = time.process_time() - began
        clock[name] = time.perf_counter() - by_clock
        return result

    ground = stage("cloth", lambda: ground_for(sewn, job, window.px_per_mm, load_fabric))

    aside, tight = timed("turned_aside", turned_aside), timed("drawn_tight", drawn_tight)

    def stack() -> Any:
        """As `laid_out` does it after the cloth."""
        strands = aside(strands_of(sewn, threads, job, ground.hidden), sewn, job.fabric, job.seed)
        fuzz = [load_fibres()[thread.shines_as].fuzz for thread in threads]
        strands = with_fuzz(strands, fuzz, job.seed)
        stacked = stack_strands(strands, raised_base(ground, strands), bedding=ground.bedding)
        return strands, tight(stacked, strands, sewn, job.fabric, job.seed)

    strands, stacked = stage("stack", stack)
    options: dict[str, Any] = {"threads": threads, "lobes": load_fibres(), "light": job.light}
    pixels = blank(window, transparent=False)
    onto = timed("paint", partial(paint, pixels))
    prepared = timed("prepare", partial(layers.prepare, strands, stacked, ground, window=window, **options))
    stage("draw", lambda: draw_parts(prepared(), onto))
    mb = (_peak_mb() or 0.0) - before_mb
    flat_lines(planned, window)
    stage("lines", lambda: flat_lines(planned, window))
    block = np.zeros(1 << 27, np.uint8)
    began = time.process_time()
    np.copyto(np.empty_like(block), block)
    np.copyto(np.empty_like(block), block)
    per_s = 4 * block.nbytes / (time.process_time() - began)
    pixels = window.rows * window.cols
    row = {"stitches": len(planned.start_mm), "pixels": pixels, "mb": mb, "bytes_per_s": per_s}
    return {**row, "seconds": seconds, "clock": sum(clock[name] for name in STAGES), "parts": parts}


def _in_child(count: int, dpi: float) -> dict[str, Any]:
    command = [sys.executable, "-m", "tests.bench.drawing", "--one", str(count), str(dpi)]
    done = subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True)
    result: dict[str, Any] = json.loads(done.stdout)
    return result


if __name__ == "__main__":
    if sys.argv[1:2] == ["--one"]:
        print(json.dumps(measure(int(sys.argv[2]), float(sys.argv[3]))))
    else:
        given = [one for one in sys.argv[1:] if one != "--million"]
        main(Path(given[0]) if given else ROOT / "docs", million="--million" in sys.argv)
