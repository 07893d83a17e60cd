"""Print the inspection's score: python -m planting [--seed N] [--each N], from the tests' folder."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[2] / "examples")]

from planting.score import table, total  # noqa: E402 - where it is found stands above

parser = argparse.ArgumentParser(description=__doc__)
parser.add_argument("--seed", type=int, default=1)
parser.add_argument("--each", type=int, default=3, help="plants of each kind and size")
parser.add_argument("--wrong", action="store_true", help="say what was missed or alleged")
asked = parser.parse_args()
scores = total(asked.seed, asked.each)
print(table(scores))
reports = sum(one.true + one.false for one in scores.values())
false = sum(one.false for one in scores.values())
planted, found = (sum(getattr(one, name) for one in scores.values()) for name in ("planted", "found"))
print(f"\nrecall {found} of {planted}, precision {reports - false} of {reports}, seed {asked.seed}")
if asked.wrong:
    print(*(line for one in scores.values() for line in one.wrong), sep="\n")
