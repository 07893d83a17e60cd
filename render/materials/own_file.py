"""A preset by name, or the user's own TOML file of the same form."""

from __future__ import annotations

import difflib
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any

from render.errors import InputError
from render.materials.presets import preset, preset_names

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping


def named_or_own(folder: str, wanted: str, what: str) -> tuple[str, dict[str, Any]]:
    """Name and contents of the preset `wanted` in `folder`, or of the file with that path.

    Raises InputError that lists the presets, or says what is wrong with the file.
    """
    names = preset_names(folder)
    if wanted in names:
        return wanted, preset(f"{folder}/{wanted}.toml")
    if not wanted.endswith(".toml"):
        near = difflib.get_close_matches(wanted, names, 1)
        hint = f" (did you mean {near[0]}?)" if near else ""
        raise InputError(
            f"there is no {what} {wanted!r}{hint}: choose {', '.join(names)}, or a .toml file of your own"
        )
    return Path(wanted).stem, read_toml(wanted, what)


def read_toml(path: str, what: str) -> dict[str, Any]:
    """A TOML file, or InputError saying why it cannot be read."""
    try:
        return tomllib.loads(Path(path).read_bytes().decode("utf-8"))
    except OSError as error:
        raise InputError(f"cannot read the {what} file {path}: {error.strerror}") from None
    except UnicodeDecodeError as error:
        raise InputError(f"{path} is not text in UTF-8 (byte {error.start}): save it as UTF-8") from None
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"{path} is not valid TOML: {error}") from None


def check_keys(values: Mapping[str, Any], known: Iterable[str], place: str) -> None:
    """Refuse the first key that is not known, naming the nearest that is."""
    known = tuple(known)
    for key in values:
        if key not in known:
            near = difflib.get_close_matches(key, known, 1)
            hint = f"did you mean {near[0]!r}?" if near else f"known are {', '.join(known)}"
            raise InputError(f"{place}: {key!r} is not known here; {hint}")


def number(values: Mapping[str, Any], key: str, place: str, low: float, high: float) -> float:
    """A number in [low, high] that must be there."""
    value = values.get(key)
    if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
        raise InputError(f"{place}: {key} must be a number from {low:g} to {high:g}, not {value!r}")
    return float(value)
