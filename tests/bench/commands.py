"""Whole commands on the crest, all caches warm: python -m tests.bench.commands.

Processor seconds of `draw`, child processes included, beside those of importing the libraries that it
needs, bare: with the design sewn before, as when a picture is drawn again in other colours, and sewn anew.
Drawing again loads fewer of them, which stand by themselves. And a proof for the screen with its page to
print.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
CREST = ["examples/crest.dst", "--job", "examples/crest.job.toml", "--force", "-o"]
LOADED = "import numpy, scipy.linalg, numba, PIL.Image, typer, pydantic"
LIBRARIES = f"{LOADED}, scipy.ndimage, scipy.sparse.linalg"
MAIN = "from render.cli import main; main()"
SEWN_ANEW = f"from render.sew import sewn_cache; sewn_cache.kept = lambda *_, make, **__: make(); {MAIN}"
RUNS = 5


def main() -> None:
    """Measure in turn, so that all meet the same neighbours, and print the least of each."""
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        commands = {
            "importing the libraries": [LIBRARIES],
            "importing those that drawing again loads": [LOADED],
            "draw": [MAIN, "draw", *CREST, str(folder / "crest.png")],
            "draw, sewn anew": [SEWN_ANEW, "draw", *CREST, str(folder / "anew.png")],
            "proof": [MAIN, "proof", *CREST, str(folder / "crest.html")],
        }
        rounds = [{name: _took(words, folder) for name, words in commands.items()} for _ in range(RUNS + 1)]
    bare_s = min(one["importing the libraries"][0] for one in rounds[1:])
    print("| | s of the processors | times the import | s on the clock |\n|---|---|---|---|")
    for name in commands:
        processors_s, clock_s = (min(one[name][which] for one in rounds[1:]) for which in range(2))
        print(f"| {name} | {processors_s:.2f} | {processors_s / bare_s:.1f} | {clock_s:.2f} |")


def _took(words: list[str], folder: Path) -> tuple[float, float]:
    """Processor seconds and seconds on the clock of one run of Python."""
    # As installed: modules are compiled once.
    environment = {**os.environ, "PYTHONPYCACHEPREFIX": str(folder / "compiled")}
    environment.pop("PYTHONDONTWRITEBYTECODE", None)
    before, began = os.times(), time.perf_counter()
    subprocess.run([sys.executable, "-c", *words], cwd=ROOT, env=environment, check=True, capture_output=True)
    after = os.times()
    own = after.children_user - before.children_user + after.children_system - before.children_system
    return own, time.perf_counter() - began


if __name__ == "__main__":
    main()
