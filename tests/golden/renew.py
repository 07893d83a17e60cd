"""Keep the pictures as they are drawn now: python -m tests.golden.renew [NAME ...]."""

from __future__ import annotations

import sys
from pathlib import Path

HERE = Path(__file__).parent


def renew(names: list[str]) -> None:
    """Draw the named scenes, or all, and keep them."""
    sys.path.insert(0, str(HERE.parent))
    from golden.scenes import SCENES
    from PIL import Image

    (HERE / "pictures").mkdir(exist_ok=True)
    for name in names or SCENES:
        path = HERE / "pictures" / f"{name}.png"
        Image.fromarray(SCENES[name]()).save(path, optimize=True)
        print(path)


if __name__ == "__main__":
    renew(sys.argv[1:])
