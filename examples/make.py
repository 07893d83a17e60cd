"""Write the example designs: `python examples/make.py [FOLDER] [--only NAME] [--jacket-back]`."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

from designs.crest import crest  # noqa: E402
from digitize.files import write_design  # noqa: E402

DESIGNS = {"crest": crest}


def main() -> None:
    """Write what is asked for and say what it is."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path, nargs="?", default=HERE, help="where to (default: here)")
    parser.add_argument("--only", choices=DESIGNS, help="one design instead of all")
    asked = parser.parse_args()
    asked.folder.mkdir(parents=True, exist_ok=True)
    for name in [asked.only] if asked.only else DESIGNS:
        sewing = DESIGNS[name]()
        write_design(sewing, asked.folder, name)
        print(f"{name}: {sewing.stitches} stitches, {sewing.block + 1} colour blocks")


if __name__ == "__main__":
    main()
