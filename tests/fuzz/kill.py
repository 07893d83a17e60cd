"""End a command at random moments: python fuzz/kill.py [--times N] OUTPUT twillight's arguments …, from the
tests' folder (Linux).

OUTPUT is a file name; the command is run in an empty folder with `-o OUTPUT --force`, first to its end, then
N times with a signal (kill, terminate, interrupt in turn) at a random moment of that span, half of them over
a file that is there already. After each: the file is the old one, or whole; and in the end the command runs
through among all that was left. Every run is a fork of one process that has run the command before: nothing
is loaded anew, so that the moments fall into the work and not into its imports.
"""

from __future__ import annotations

import argparse
import os
import random
import select
import signal
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from render.cli import run as twillight

SIGNALS = (signal.SIGKILL, signal.SIGTERM, signal.SIGINT)
OLD = b"what lay here before"
LONGEST_S = 300.0


def forked(arguments: list[str], folder: Path) -> int:
    """Start the command in a fork that sits in this folder and says nothing; its process id."""
    child = os.fork()
    if child:
        return child
    code = 70
    try:
        os.chdir(folder)
        silent = os.open(os.devnull, os.O_RDWR)
        for stream in (0, 1, 2):
            os.dup2(silent, stream)
        code = twillight(arguments)
    finally:
        os._exit(code)


def run(arguments: list[str], folder: Path, ends_after: float, how: signal.Signals) -> int:
    """Run the command and end it after some seconds; its exit code, negative for a signal's."""
    child = forked(arguments, folder)
    ended = os.pidfd_open(child)
    try:
        if not select.select([ended], [], [], ends_after)[0]:
            signal.pidfd_send_signal(ended, how)
        if not select.select([ended], [], [], LONGEST_S)[0]:
            signal.pidfd_send_signal(ended, signal.SIGKILL)
    finally:
        os.close(ended)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def end_at_random(name: str, arguments: list[str], times: int, seed: int) -> list[str]:
    """What went wrong in so many runs."""
    chance, wrong, seen = random.Random(seed), [], Counter[str]()
    asked = [*arguments, "-o", name, "--force"]
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        os.chdir(folder)
        if twillight(asked) != 0:
            return ["the command fails when it is left alone"]
        whole = (folder / name).read_bytes()
        began = time.monotonic()
        if run(asked, folder, LONGEST_S, signal.SIGKILL) != 0 or (folder / name).read_bytes() != whole:
            return ["a second run gives something else"]
        span = time.monotonic() - began
        for turn in range(times):
            target, how = folder / name, SIGNALS[turn % len(SIGNALS)]
            target.unlink(missing_ok=True)
            if turn % 2:
                target.write_bytes(OLD)
            # Every other pair of turns near the end, where the file is written.
            moment = (0.8 + 0.25 * chance.random() if turn & 2 else chance.random()) * span
            began = time.monotonic()
            code = run(asked, folder, moment, how)
            if code == 0:  # how long it takes changes with what else the machine does
                span = 0.7 * span + 0.3 * (time.monotonic() - began)
            after = target.read_bytes() if target.exists() else None
            before = OLD if turn % 2 else None
            seen["whole" if after == whole else "as before" if after == before else "half"] += 1
            seen["ran through"] += code == 0
            if after not in (whole, before):
                wrong.append(f"turn {turn}: {how.name} after {moment:.2f} s leaves {len(after or b'')} bytes")
            if code == 0 and after != whole:
                wrong.append(f"turn {turn}: said it was done, and it was not")
        if run(asked, folder, LONGEST_S, signal.SIGKILL) != 0 or (folder / name).read_bytes() != whole:
            wrong.append("the next run fails")
        left = sorted(path.name for path in folder.iterdir() if path.name != name)
        os.chdir("/")
    print(
        f"{arguments[0]}: {times} ends within {span:.2f} s: {dict(seen)}, left beside: {len(left)} {left[:3]}"
    )
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
