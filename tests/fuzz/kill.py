"""End a command at random moments: python fuzz/kill.py [--times N] OUTPUT twillight's arguments …, from the
tests' folder.

OUTPUT is a file name; the command is run in an empty folder with `-o OUTPUT --force`, first to its end, then
N times with a signal (kill, terminate, interrupt in turn) at a random moment of that span, half of them over
a file that is there already. After each: the file is the old one, or whole; and in the end the command runs
through among all that was left.
"""

from __future__ import annotations

import argparse
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).parents[2]
SIGNALS = (signal.SIGKILL, signal.SIGTERM, signal.SIGINT)
OLD = b"what lay here before"


def run(arguments: list[str], folder: Path, ends_after: float | None, how: signal.Signals) -> int:
    """Run the command in a folder and end it after some seconds; its exit code."""
    command = [sys.executable, "-m", "render.cli", *arguments]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    process = subprocess.Popen(
        command, cwd=folder, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    if ends_after is not None:
        try:
            process.wait(ends_after)
        except subprocess.TimeoutExpired:
            process.send_signal(how)
    return process.wait(120)


def end_at_random(name: str, arguments: list[str], times: int, seed: int) -> list[str]:
    """What went wrong in so many runs."""
    chance, wrong, seen = random.Random(seed), [], Counter[str]()
    asked = [*arguments, "-o", name, "--force"]
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        for _ in range(2):  # The first run may have kernels to compile.
            began = time.monotonic()
            if run(asked, folder, None, signal.SIGKILL) != 0:
                return ["the command fails when it is left alone"]
            span = time.monotonic() - began
        whole = (folder / name).read_bytes()
        for turn in range(times):
            target, how = folder / name, SIGNALS[turn % len(SIGNALS)]
            target.unlink(missing_ok=True)
            if turn % 2:
                target.write_bytes(OLD)
            # Every other pair of turns near the end, where the file is written.
            moment = (0.8 + 0.25 * chance.random() if turn & 2 else chance.random()) * span
            code = run(asked, folder, moment, how)
            after = target.read_bytes() if target.exists() else None
            before = OLD if turn % 2 else None
            seen["whole" if after == whole else "as before" if after == before else "half"] += 1
            if after not in (whole, before):
                wrong.append(f"turn {turn}: {how.name} after {moment:.2f} s leaves {len(after or b'')} bytes")
            if code == 0 and after != whole:
                wrong.append(f"turn {turn}: said it was done, and it was not")
        if run(asked, folder, None, signal.SIGKILL) != 0 or (folder / name).read_bytes() != whole:
            wrong.append("the next run fails")
        left = sorted(path.name for path in folder.iterdir() if path.name != name)
    print(f"{arguments[0]}: {times} ends within {span:.1f} s: {dict(seen)}, left beside: {len(left)}")
    return wrong


def main() -> int:
    """End the command that the arguments name."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--times", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("output")
    parser.add_argument("arguments", nargs=argparse.REMAINDER)
    asked = parser.parse_args()
    wrong = end_at_random(asked.output, asked.arguments, asked.times, asked.seed)
    print(*wrong, sep="\n")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
