"""Draw the pictures of the README: python examples/pictures.py [FOLDER]."""

from __future__ import annotations

import sys
from pathlib import Path

from render import Job, View, draw_design, make_job, read_design, write_picture

HERE = Path(__file__).parent


def main(folder: Path) -> None:
    """The crest as the README shows it, the same on three cloths under two lights, and what
    a faulty design leaves on the machine."""
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
    write(
        folder / "crest-faulty.jpg",
        "crest-faulty.pes",
        View(dpi=200),
        make_job(fabric="twill", threads=str(HERE / "crest-faulty.threads.toml")),
    )
    job = make_job(str(HERE / "applique-oar.job.toml"), finish="cleaned")
    write(folder / "applique-oar.jpg", "applique-oar.pes", View(dpi=200), job)


def write(path: Path, design: str, view: View, job: Job) -> None:
    """Draw one picture over whatever is there."""
    drawn = draw_design(read_design(HERE / design), job, view)
    write_picture(drawn.picture, path, force=True)
    print(path)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE / "pictures")
