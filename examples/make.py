"""Write the example designs: `python examples/make.py [FOLDER] [--only NAME] [--without FAULT]`."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Collection
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

from designs.applique_oar import applique_oar  # noqa: E402
from designs.cap_badge import cap_badge  # noqa: E402
from designs.crest import crest  # noqa: E402
from designs.faults import KINDS, crest_faulty, fault_list  # noqa: E402
from designs.jacket_back import jacket_back  # noqa: E402
from designs.wordmark import wordmark  # noqa: E402
from digitize.files import write_design  # noqa: E402
from digitize.sewing import Sewing  # noqa: E402

DESIGNS = {"crest": crest, "wordmark": wordmark, "cap-badge": cap_badge, "applique-oar": applique_oar}
FAULTY, LARGE = "crest-faulty", "jacket-back"
SHIPPED = (*DESIGNS, FAULTY)


def make(name: str, folder: Path, faults: Collection[str] = KINDS) -> Sewing:
    """Write one design, by name, with everything that belongs to it; the faulty one with these faults."""
    if name == FAULTY:
        faulty = crest_faulty(faults)
        (folder / f"{name}.truth.toml").write_text(fault_list(faulty.faults), "utf-8")
        sewing = faulty.sewing
    else:
        sewing = jacket_back() if name == LARGE else DESIGNS[name]()
    write_design(sewing, folder, name)
    return sewing


def main() -> None:
    """Write what is asked for and say what it is."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path, nargs="?", default=HERE, help="where to (default: here)")
    parser.add_argument("--only", choices=(*SHIPPED, LARGE), help="one design instead of all that ship")
    parser.add_argument("--jacket-back", action="store_true", help="the large design too")
    parser.add_argument(
        "--without", choices=KINDS, action="append", default=[], help=f"leave this fault out of {FAULTY}"
    )
    asked = parser.parse_args()
    if asked.without and asked.folder == HERE:
        parser.error("--without makes another design of the same name: give it a folder of its own")
    faults = [kind for kind in KINDS if kind not in asked.without]
    asked.folder.mkdir(parents=True, exist_ok=True)
    names = (asked.only,) if asked.only else SHIPPED
    for name in (*names, LARGE) if asked.jacket_back and LARGE not in names else names:
        sewing = make(name, asked.folder, faults)
        width, height = sewing.needle_points_mm().max(axis=0) - sewing.needle_points_mm().min(axis=0)
        print(f"{name}: {sewing.stitches} stitches, {sewing.block + 1} blocks, {width:.1f} x {height:.1f} mm")


if __name__ == "__main__":
    main()
