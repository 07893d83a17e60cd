"""How long the screen proof takes to relight, in a browser that draws in software: `python -m bench.screen`.

Prints the time of a frame at 1200 x 1200 by the clock, and the processor time of the browser's drawing
process, which a busy machine does not lengthen as much: on two cores half of it can be had.
"""

from __future__ import annotations

import os
import shutil
import statistics
import sys
import tempfile
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1]))

FRAMES = 40
WIDE_MM = 100.0 - 12.0  # 1200 pixels at 12 a mm, with the margin of 6 mm
SOFTWARE = ["--no-sandbox", "--use-angle=swiftshader", "--enable-unsafe-swiftshader"]
LIGHT_ANEW = """async (frames) => {
    const canvas = document.querySelector(".sheet canvas"), gl = canvas.getContext("webgl2");
    const slider = document.getElementById("azimuth"), times = [];
    for (let k = 0; k < frames; k++) {
        slider.value = (k * 35) % 360;
        slider.dispatchEvent(new Event("input"));
        times.push(await new Promise((done) => requestAnimationFrame(() => {
            const start = performance.now();
            gl.readPixels(0, 0, 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, new Uint8Array(4));
            done(performance.now() - start);
        })));
    }
    return [canvas.width, canvas.height, times];
}"""


def page_of_crest(repository: Path) -> str:
    """The crest so large that its picture is 1200 pixels wide."""
    from dataclasses import replace

    from render.materials.job import make_job
    from render.proof import make_proof
    from render.proof.web import proof_html
    from render.read import read_design

    design = read_design(repository / "examples/crest.pes")
    wide = float(design.xy_mm[:, 0].max() - design.xy_mm[:, 0].min())
    larger = replace(design, xy_mm=design.xy_mm * (WIDE_MM / wide))
    job = make_job(str(repository / "examples/crest.job.toml"))
    return proof_html([make_proof(larger, job, screen=True)])


def drawing_seconds() -> float:
    """Processor time so far of the processes in which chromium draws."""
    ticks = 0
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            if b"--type=gpu-process" in stat.with_name("cmdline").read_bytes():
                fields = stat.read_text().rsplit(")", 1)[1].split()
                ticks += int(fields[11]) + int(fields[12])
        except OSError:
            continue
    return ticks / os.sysconf("SC_CLK_TCK")


def main() -> None:
    from playwright.sync_api import sync_playwright

    with tempfile.TemporaryDirectory() as folder, sync_playwright() as play:
        path = Path(folder) / "proof.html"
        path.write_text(page_of_crest(Path(__file__).parents[2]), "utf-8")
        browser: Any = play.chromium.launch(executable_path=shutil.which("chromium"), args=SOFTWARE)
        page = browser.new_page()
        page.goto(path.as_uri())
        page.wait_for_selector("html[data-ready]", state="attached", timeout=120_000)
        before = drawing_seconds()
        cols, rows, times = page.evaluate(LIGHT_ANEW, FRAMES)
        used = (drawing_seconds() - before) / FRAMES
        browser.close()
    print(f"{cols} x {rows}, {path.name}: median {statistics.median(times):.0f} ms, best {min(times):.0f} ms")
    print(f"processor time {1000 * used:.0f} ms a frame, on two cores at best {500 * used:.0f} ms")


if __name__ == "__main__":
    main()
