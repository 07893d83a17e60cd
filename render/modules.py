"""Modules found by their files: what is added to a package is a new file in it, and stands in no list."""

from __future__ import annotations

import importlib
import pkgutil
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from types import ModuleType


def names_in(package: str) -> tuple[str, ...]:
    """Names of the modules in a package, in the order of the alphabet; none of them is loaded."""
    folder = importlib.import_module(package).__path__
    return tuple(sorted(found.name for found in pkgutil.iter_modules(folder)))


def endings(package: str) -> tuple[str, ...]:
    """Endings of files, with their dot, that the modules of a package are named after."""
    return tuple(f".{name}" for name in names_in(package))


def modules_in(package: str) -> tuple[ModuleType, ...]:
    """The modules in a package, loaded."""
    return tuple(module_in(package, name) for name in names_in(package))


def module_in(package: str, name: str) -> ModuleType:
    """The module of this name in a package, loaded."""
    return importlib.import_module(f"{package}.{name}")
