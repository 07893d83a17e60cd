"""Whole commands on the crest, all caches warm: python -m tests.bench.commands.

Processor seconds of `draw`, child processes included, beside those of importing the libraries that it
needs, bare; and the seconds on the clock of a proof for the screen with its page to print.
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
LIBRARIES = (
    "import numpy, scipy.linalg, scipy.ndimage, scipy.sparse.linalg, numba, PIL.Image, typer, pydantic"
)
RUNS = 3


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        bare = _best([sys.executable, "-c", LIBRARIES], folder)
        draw = _best([*_command("draw"), str(folder / "crest.png")], folder)
        proof = _best([*_command("proof"), str(folder / "crest.html")], folder)
    print(f"importing the libraries: {bare[0]:.2f} s of the processors")
    print(f"draw: {draw[0]:.2f} s of the processors, {draw[1]:.2f} s on the clock")
    print(f"that is {draw[0] / bare[0]:.1f} times the import")
    print(f"proof: {proof[0]:.2f} s of the processors, {proof[1]:.2f} s on the clock")


def _command(name: str) -> list[str]:
    return [sys.executable, "-c", "from render.cli import main; main()", name, *CREST]


def _best(command: list[str], folder: Path) -> tuple[float, float]:
    """The least processor seconds and the least seconds on the clock of a few runs, after a first one."""
    # As installed: modules are compiled once.
    environment = {**os.environ, "PYTHONPYCACHEPREFIX": str(folder / "compiled")}
    environment.pop("PYTHONDONTWRITEBYTECODE", None)
    took: list[tuple[float, float]] = []
    for _ in range(RUNS + 1):
        before, began = os.times(), time.perf_counter()
        subprocess.run(command, cwd=ROOT, env=environment, check=True, capture_output=True)
        after = os.times()
        own = after.children_user - before.children_user + after.children_system - before.children_system
        took.append((own, time.perf_counter() - began))
    seconds, clock = zip(*took[1:], strict=True)
    return min(seconds), min(clock)


if __name__ == "__main__":
    main()
