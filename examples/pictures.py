"""Draw the pictures of the README: python examples/pictures.py [FOLDER]."""

from __future__ import annotations

import sys
import tempfile
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from designs.gap_study import gap_study
from digitize.files import stitch_file
from render import Job, View, draw_design, make_job, read_design, write_picture
from render.cli import run
from render.compose.lettering import draw_text
from render.compose.page import paper, side_by_side, stacked
from render.inspection import inspect_design

HERE = Path(__file__).parent


def main(folder: Path) -> None:
    """The crest and the wordmark as the README shows them, and pages of the other commands."""
    folder.mkdir(parents=True, exist_ok=True)
    job = make_job(str(HERE / "crest.job.toml"))
    write(folder / "crest-pique.jpg", "crest.pes", View(dpi=300), job)
    for cloth, colour, light in (
        ("jersey", "#59616b", "window"),
        ("denim", None, "raking"),
        ("terry", "#2f5d66", "soft-studio"),
    ):
        job = make_job(fabric=cloth, fabric_colour=colour, light=light, finish="cleaned")
        write(folder / f"wordmark-{cloth}.jpg", "wordmark.pes", View(dpi=220, margin_mm=8), job)
    sheets(folder)
    proof_pages(folder)
    row_ends(folder)


def sheets(folder: Path) -> None:
    """Pages of the other commands, half their size: an inspection, and cloths compared."""
    threads = ["--threads", str(HERE / "crest-faulty.threads.toml")]
    faulty, crest = str(HERE / "crest-faulty.exp"), str(HERE / "crest.pes")
    for name, command in (
        ("inspected", ["inspect", faulty, "--fabric", "twill", *threads]),
        ("compared", ["compare", crest, "--fabrics", "twill,jersey,sweatshirt-fleece"]),
    ):
        with tempfile.TemporaryDirectory() as made:
            sheet = Path(made) / "sheet.png"
            assert run([*command, "-o", str(sheet)]) in (0, 1)
            with Image.open(sheet) as page:
                half = page.resize((page.width // 2, page.height // 2), Image.Resampling.LANCZOS)
                half.save(folder / f"{name}.jpg", quality=85)
        print(folder / f"{name}.jpg")


def proof_pages(folder: Path) -> None:
    """Both pages of the crest's proof side by side, as a reader of PDFs shows them."""
    from pypdfium2 import PdfDocument

    with tempfile.TemporaryDirectory() as made:
        page = Path(made) / "proof.pdf"
        job = ["--job", str(HERE / "crest.job.toml"), "--operator"]
        assert run(["proof", str(HERE / "crest.pes"), "-o", str(page), *job]) == 0
        pages = [np.asarray(one.render(scale=1.4).to_pil().convert("RGB")) for one in PdfDocument(page)]
    gap = np.full((len(pages[0]), 16, 3), 205, np.uint8)
    edged = [
        np.pad(one, ((16, 16), (0, 0), (0, 0)), constant_values=205)
        for one in (gap, pages[0], gap, pages[1], gap)
    ]
    Image.fromarray(np.concatenate(edged, 1)).save(folder / "proof.jpg", quality=88)


def row_ends(folder: Path) -> None:
    """A letter and a disc with a border that only meets it, as programmed above, as sewn below."""
    with tempfile.TemporaryDirectory() as made:
        path = Path(made) / "gap-study.exp"
        path.write_bytes(stitch_file(gap_study(), "exp", "gap-study"))
        design = read_design(path)
    columns = []
    for fabric in ("twill", "jersey", "sweatshirt-fleece"):
        job = make_job(fabric=fabric, finish="cleaned", threads=str(HERE / "gap-study.threads.toml"))
        found = inspect_design(design, job).problems
        widest = max((one.size_mm or 0.0 for one in found if one.kind == "gap"), default=0.0)
        rows = []
        for still in (True, False):
            view = View(width_px=560, margin_mm=3.0)
            rows.append(draw_design(design, replace(job, as_programmed=still), view).picture.pixels)
        words = f"gap up to {widest:.2f} mm" if widest else "no gap to speak of"
        columns.append(np.concatenate([*rows, _caption(f"{job.fabric.title}: {words}")]))
    page = stacked([side_by_side(columns, apart_px=10, left_px=50)])
    write_picture(page, folder / "row-ends.jpg", force=True)
    print(folder / "row-ends.jpg")


def _caption(words: str) -> NDArray[np.uint8]:
    strip = paper(46, 560)
    draw_text(strip, (10, 4), words, 24)
    return strip


def write(path: Path, design: str, view: View, job: Job) -> None:
    """Draw one picture over whatever is there."""
    drawn = draw_design(read_design(HERE / design), job, view)
    write_picture(drawn.picture, path, force=True)
    print(path)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE / "pictures")
