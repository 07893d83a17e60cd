"""Damage a great many files and read them: python -m fuzz [--files N] [--seed N], from the tests' folder.

Prints one row a format: how many were read, read with a note, read as that format, refused, or brought the
decoding process down; the slowest in processor seconds; that process's peak memory. Ends with 1 if one broke
a limit.
"""

from __future__ import annotations

import argparse
import os
import random
import re
import sys
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[2])]

from clock import processor_seconds  # noqa: E402 - where it is found stands above
from damage import WHOLE, Service, assert_sane, is_short_unsaid, mutate  # noqa: E402

from render.errors import InputError  # noqa: E402
from render.read import known_formats  # noqa: E402

SECONDS = 2.0
MEMORY_MB = 300
# Headings, and what they count.
COLUMNS = {
    "read": "read",
    "with a note": "noted",
    "as that format": "itself",
    "short, nothing said": "short",
    "refused": "refused",
    "process replaced": "replaced",
}


def whole_files(name: str) -> tuple[bytes, ...]:
    """Sound files to damage: of the format itself, else bodies of others, without what tells them by."""
    if name in WHOLE:
        return (WHOLE[name],)
    noise = random.Random(name)
    bodies = [WHOLE["dst"][512:], WHOLE["exp"], WHOLE["u01"][256:], WHOLE["jef"][300:], WHOLE["pec"][600:]]
    heads = [noise.randbytes(size) for size in (0, 16, 128, 256, 512)]
    texts = [b"\n".join(b"%d,%d" % (noise.randrange(-99, 99), turn) for turn in range(400))]
    damaged = [head + body for head, body in zip(heads, bodies, strict=True)]
    return (*damaged, *texts, noise.randbytes(2_000))


def damage_format(name: str, count: int, seed: int) -> dict[str, Any]:
    """Read `count` damaged files of one format."""
    service, outcomes, broken = Service(), Counter[str](), []
    slowest, sound = 0.0, whole_files(name)
    for turn in range(count):
        data = mutate(sound[turn % len(sound)], seed * 10_000_019 + turn)
        began = spent(service)
        lost = service.lost
        try:
            design = service.read(data, f"damaged.{name}")
        except InputError:
            outcomes["refused"] += 1
        else:
            outcomes["noted" if design.notes else "read"] += 1
            outcomes["itself"] += design.format == name
            try:
                assert_sane(design, data)
            except AssertionError as why:
                broken.append(f"{name} turn {turn}: not a sane design: {why}")
            outcomes["short"] += name in WHOLE and is_short_unsaid(design, data)
        took = spent(service) - began
        slowest = max(slowest, took)
        if took > SECONDS:
            broken.append(f"{name} turn {turn}: {took:.2f} s")
        if service.lost > lost:
            outcomes["replaced"] += 1
    peak = peak_mb(service)
    if peak > MEMORY_MB:
        broken.append(f"{name}: {peak:.0f} MB")
    service.close()
    return {"outcomes": outcomes, "slowest": slowest, "peak_mb": peak, "broken": broken}


def spent(service: Service) -> float:
    """Processor seconds of this process and its decoding processes, the one alive where the system tells."""
    stat = Path(f"/proc/{service.decoder.process.pid}/stat")
    if not stat.exists():
        return processor_seconds()
    # proc(5): user and system time are the 12th and 13th field after the name in brackets.
    fields = stat.read_text().rpartition(")")[2].split()
    return processor_seconds() + (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def peak_mb(service: Service) -> float:
    """Peak memory of the decoding process, 0 where the system does not tell."""
    status = Path(f"/proc/{service.decoder.process.pid}/status")
    found = re.findall(r"VmHWM:\s+(\d+) kB", status.read_text()) if status.exists() else []
    return int(found[0]) / 1024 if found else 0.0


def main() -> int:
    """Share the formats out to two processes and print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--files", type=int, default=4_000, help="over all formats together")
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    names = [one.name for one in known_formats()]
    each = -(-asked.files // len(names))
    print("| " + " | ".join(["format", "files", *COLUMNS, "slowest s", "peak MB"]) + " |")
    print("|---" * (len(COLUMNS) + 4) + "|")
    broken: list[str] = []
    with ProcessPoolExecutor(2) as pool:
        jobs = [pool.submit(damage_format, name, each, asked.seed) for name in names]
        for name, job in zip(names, jobs, strict=True):
            row = job.result()
            counts = row["outcomes"]
            cells = [counts[key] for key in COLUMNS.values()]
            print(f"| {name} | {each:,} | " + " | ".join(f"{c:,}" for c in cells), end="")
            print(f" | {row['slowest']:.3f} | {row['peak_mb']:.0f} |", flush=True)
            broken += row["broken"]
    print(f"\n{each * len(names):,} files, seed {asked.seed}, {len(broken)} beyond a limit")
    print(*broken, sep="\n")
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main())
