"""Twillight: how a machine-embroidery design will really sew out, before a needle moves.

    from render import preview, read_design, write_picture

    picture = preview(read_design("crest.dst"))
    write_picture(picture, "crest.png")

Names load what they need when first used, so `import render` itself costs next to nothing.
"""

from __future__ import annotations

import importlib
import sys
from types import ModuleType
from typing import TYPE_CHECKING

from render._kernel_cache import ensure_kernel_cache

if TYPE_CHECKING:
    from render.errors import InputError, OutputError, TwillightError, UsageError
    from render.inspect import Inspection
    from render.inspection import inspect_design
    from render.materials.fabrics import load_fabric
    from render.materials.job import make_job
    from render.materials.lights import load_light
    from render.materials.machines import load_machine
    from render.materials.threads import load_threads, make_thread
    from render.model import Design, Fabric, Job, Light, Machine, Picture, Problem, SewPlan, Thread, View
    from render.preview import Drawn, draw_design, preview
    from render.read import read_design
    from render.report import report
    from render.write.picture import write_picture

__version__ = "0.1.0"

_HOME = {
    "Design": "render.model",
    "Drawn": "render.preview",
    "Fabric": "render.model",
    "InputError": "render.errors",
    "Inspection": "render.inspect",
    "Job": "render.model",
    "Light": "render.model",
    "Machine": "render.model",
    "OutputError": "render.errors",
    "Picture": "render.model",
    "Problem": "render.model",
    "SewPlan": "render.model",
    "Thread": "render.model",
    "TwillightError": "render.errors",
    "UsageError": "render.errors",
    "View": "render.model",
    "draw_design": "render.preview",
    "inspect_design": "render.inspection",
    "load_fabric": "render.materials.fabrics",
    "load_light": "render.materials.lights",
    "load_machine": "render.materials.machines",
    "load_threads": "render.materials.threads",
    "make_job": "render.materials.job",
    "make_thread": "render.materials.threads",
    "preview": "render.preview",
    "read_design": "render.read",
    "report": "render.report",
    "write_picture": "render.write.picture",
}

__all__ = [
    "Design",
    "Drawn",
    "Fabric",
    "InputError",
    "Inspection",
    "Job",
    "Light",
    "Machine",
    "OutputError",
    "Picture",
    "Problem",
    "SewPlan",
    "Thread",
    "TwillightError",
    "UsageError",
    "View",
    "draw_design",
    "inspect_design",
    "load_fabric",
    "load_light",
    "load_machine",
    "load_threads",
    "make_job",
    "make_thread",
    "preview",
    "read_design",
    "report",
    "write_picture",
]

# Any later import may load numba, and it looks for its cache folder only once.
ensure_kernel_cache()


def __getattr__(name: str) -> object:
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(importlib.import_module(_HOME[name]), name)


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})


class _Package(ModuleType):
    """A package whose public names stay what they are.

    Python sets a module as an attribute of its package once it is imported. The functions
    `preview` and `report` live in modules of the same names and would be replaced by them.
    """

    def __setattr__(self, name: str, value: object) -> None:
        if not (name in _HOME and isinstance(value, ModuleType)):
            super().__setattr__(name, value)


sys.modules[__name__].__class__ = _Package
