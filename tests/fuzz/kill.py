"""End a command at random moments: python fuzz/kill.py [--times N] OUTPUT twillight's arguments …, from the
tests' folder (Linux).

OUTPUT is a file name; the command is run in an empty folder with `-o OUTPUT --force`, first to its end, then
N times with an end (killed, terminated, interrupted in turn) at a random moment of that span, half of them
over a file that is there already. After each: the file is the old one, or whole; and in the end the command
runs through among all that was left, and a day later takes it away.

Every run is a fork of one process that has run the command before: nothing is loaded anew, so that the
moments fall into the work and not into its imports. Moments are counted in processor seconds of the fork:
on a busy machine they would lie after the work as often as within it.
"""

from __future__ import annotations

import argparse
import atexit
import os
import random
import select
import shutil
import signal
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from render.cli import main as twillight
from render.cli import run as run_here

WAYS = ("killed", "terminated", "interrupted")
OLD = b"what lay here before"
LONGEST_S = 300.0


def end_by_itself(after_s: float, way: str) -> None:
    """Let the running process be ended after so many of its own processor seconds.

    The timer's signal ends a process as SIGKILL does, with no instruction more, unless it is handled.
    """
    raised = {"terminated": signal.SIGTERM, "interrupted": signal.SIGINT}.get(way)
    if raised is not None:
        signal.signal(signal.SIGPROF, lambda number, frame: signal.raise_signal(raised))
    signal.setitimer(signal.ITIMER_PROF, after_s)


def run(arguments: list[str], folder: Path, ends_after_s: float, way: str) -> tuple[int, float]:
    """Run the command in a fork, in this folder and silent, and end it after some processor seconds.

    Its exit code, negative for a signal's, and the processor seconds it took if it came to its end.
    """
    took, told = os.pipe()
    child = os.fork()
    if not child:
        code: object = 70
        try:
            os.chdir(folder)
            silent = os.open(os.devnull, os.O_RDWR)
            for stream in (0, 1, 2):
                os.dup2(silent, stream)
            sys.argv[1:] = arguments
            began = time.process_time()
            # A command that is done leaves by os._exit, after what is registered here.
            atexit.register(lambda: os.write(told, f"{time.process_time() - began} ".encode()))
            end_by_itself(ends_after_s, way)
            twillight()
        except SystemExit as ended:
            code = ended.code
        finally:
            signal.setitimer(signal.ITIMER_PROF, 0)
            os.write(told, f"{time.process_time() - began} ".encode())
            os._exit(int(str(code)))
    os.close(told)
    watched = os.pidfd_open(child)
    if not select.select([watched], [], [], LONGEST_S)[0]:
        signal.pidfd_send_signal(watched, signal.SIGKILL)
    os.close(watched)
    code = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    with os.fdopen(took, "rb") as stream:
        return code, float(stream.read().partition(b" ")[0] or 0)


def end_at_random(name: str, arguments: list[str], times: int, seed: int) -> list[str]:
    """What went wrong in so many runs."""
    chance, wrong, seen = random.Random(seed), [], Counter[str]()
    asked = [*arguments, "-o", name, "--force"]
    # Not a TemporaryDirectory: every fork would take it away as it leaves.
    folder = Path(tempfile.mkdtemp())
    try:
        target = folder / name
        os.chdir(folder)
        # In this process, so that what it loads and compiles is there for every fork.
        if run_here(asked) != 0:
            return ["the command fails when it is left alone"]
        whole = target.read_bytes()
        code, span_s = run(asked, folder, LONGEST_S, "killed")
        if code != 0 or target.read_bytes() != whole:
            return ["a second run gives something else"]
        for turn in range(times):
            way = WAYS[turn % len(WAYS)]
            target.unlink(missing_ok=True)
            if turn % 2:
                target.write_bytes(OLD)
            # Every other pair of turns near the end, where the file is written.
            moment_s = (0.75 + 0.2 * chance.random() if turn & 2 else chance.random()) * span_s
            code, took_s = run(asked, folder, moment_s, way)
            if code == 0:
                span_s = 0.7 * span_s + 0.3 * took_s
            after = target.read_bytes() if target.exists() else None
            before = OLD if turn % 2 else None
            seen["whole" if after == whole else "as before" if after == before else "half"] += 1
            seen["ran through"] += code == 0
            seen["files left beside"] = len(beside(folder, name))
            if after not in (whole, before):
                wrong.append(f"turn {turn}: {way} after {moment_s:.2f} s leaves {len(after or b'')} bytes")
            if code == 0 and after != whole:
                wrong.append(f"turn {turn}: said it was done, and it was not")
            print(f"{arguments[0]} {turn + 1}: {dict(seen)}", file=sys.stderr, flush=True)
        for path in beside(folder, name):
            os.utime(path, (time.time() - 25 * 3600,) * 2)
        if run(asked, folder, LONGEST_S, "killed")[0] != 0 or target.read_bytes() != whole:
            wrong.append("the next run fails")
        if left := beside(folder, name):
            wrong.append(f"still there a day later: {', '.join(path.name for path in left)}")
    finally:
        os.chdir("/")
        shutil.rmtree(folder)
    print(f"{arguments[0]}: {times} ends within {span_s:.2f} processor seconds: {dict(seen)}")
    return wrong


def beside(folder: Path, name: str) -> list[Path]:
    """What else lies in the folder."""
    return sorted(path for path in folder.iterdir() if path.name != name)


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
