"""Twillight: how a machine-embroidery design will really sew out, before a needle moves.

    from render import preview, read_design, write_picture

    picture = preview(read_design("crest.dst"))
    write_picture(picture, "crest.png")

Names load what they need when first used, so `import render` itself costs next to nothing.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING

from render._kernel_cache import ensure_kernel_cache

if TYPE_CHECKING:
    from render.errors import InputError, OutputError, TwillightError, UsageError

__version__ = "0.1.0"

_HOME = {
    "InputError": "render.errors",
    "OutputError": "render.errors",
    "TwillightError": "render.errors",
    "UsageError": "render.errors",
}

__all__ = ["InputError", "OutputError", "TwillightError", "UsageError"]


# Any later import may load numba, and it looks for its cache folder only once.
ensure_kernel_cache()


def __getattr__(name: str) -> object:
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(importlib.import_module(_HOME[name]), name)


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
