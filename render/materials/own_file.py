"""A preset by name, or the user's own TOML file of the same form."""

from __future__ import annotations

import difflib
import json
import os
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any

from render.colour import parse_colour
from render.errors import InputError
from render.materials.presets import preset, preset_names

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from render.model import Colour

OPTIONS = "the options"  # the place of a value that came with a command instead of from a file
_LARGEST_MB = 1  # written by hand, such a file has a few thousand bytes


def named_or_own(folder: str, wanted: str, what: str) -> tuple[str, dict[str, Any]]:
    """Name and contents of the preset `wanted` in `folder`, or of the file with that path.

    Raises InputError that lists the presets, or says what is wrong with the file.
    """
    names = preset_names(folder)
    if wanted in names:
        return wanted, preset(f"{folder}/{wanted}.toml")
    if not is_toml(wanted):
        near = difflib.get_close_matches(wanted, names, 1)
        hint = f" (did you mean {near[0]}?)" if near else ""
        raise InputError(
            f"there is no {what} {shown(wanted)}{hint}: "
            f"choose {', '.join(names)}, or a .toml file of your own"
        )
    return Path(wanted).stem, read_toml(wanted, what)


def is_folder(path: str | os.PathLike[str]) -> bool:
    """Whether a folder is there; no where nobody may look, or no folder can have that name."""
    return os.path.isdir(path)  # noqa: PTH112 - Path.is_dir raises there


def is_file(path: str | os.PathLike[str]) -> bool:
    """Whether a file is there; as `is_folder`."""
    return os.path.isfile(path)  # noqa: PTH113


def is_toml(path: str) -> bool:
    """Whether a name is that of a TOML file, in capitals or not."""
    return path.lower().endswith(".toml")


def read_toml(path: str, what: str) -> dict[str, Any]:
    """A TOML file, or InputError saying why it cannot be read."""
    return parse_toml(read_text(path, what), path)


def read_text(path: str, what: str) -> str:
    """The text of a UTF-8 file of at most 1 MB, or InputError saying why it cannot be read."""
    data = read_bytes(path, what, most_mb=_LARGEST_MB)
    if data.startswith(b"PK\x03\x04"):
        raise InputError(f"{path} is a workbook or an archive, not text: save its sheet as CSV (UTF-8)")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(f"{path} is not text in UTF-8 (byte {error.start}): save it as UTF-8") from None


def read_bytes(path: str, what: str, *, most_mb: int) -> bytes:
    """The bytes of a file of at most so many million, or InputError saying why it cannot be read."""
    if not path:
        raise InputError(f"the name of the {what} file is empty: give one, or leave it out")
    try:
        with Path(path).open("rb") as file:
            data = file.read(most_mb * 1_000_000 + 1)
    except OSError as error:
        raise InputError(
            f"cannot read the {what} file {path} ({error.strerror}): check its name, its folder and whether "
            "you may read it"
        ) from None
    except ValueError:  # a NUL in the path
        raise InputError(f"cannot read the {what} file {shown(path)}: no file can have that name") from None
    if len(data) > most_mb * 1_000_000:
        raise InputError(f"the {what} file {path} is over {most_mb} MB, more than any has: check its name")
    return data


def parse_toml(text: str, path: str) -> dict[str, Any]:
    """The tables of a TOML text that came from `path`, or InputError saying what is wrong."""
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise InputError(f"{path} nests lists or tables too deeply: write it flat") from None
    except ValueError as error:  # also a number with too many digits
        raise InputError(f"{path} is not valid TOML: {error}") from None


def shown(value: object) -> str:
    """A value as an error message quotes it: on one line, and short."""
    try:
        text = repr(value)
    except ValueError:  # Python prints no whole number of more than 4300 digits
        return "a huge number"
    return text if len(text) <= 60 else f"{text[:57]}..."


def named(place: str, key: str) -> str:
    """How a message names a value: the option as it is typed, or the place and its key there."""
    return f"--{key.removesuffix('_px').replace('_', '-')}" if place == OPTIONS else f"{place}: {key}"


def check_keys(values: Mapping[str, Any], known: Iterable[str], place: str) -> None:
    """Refuse the first key that is not known, naming the nearest that is."""
    known = tuple(known)
    for key in values:
        if key not in known:
            near = difflib.get_close_matches(key, known, 1)
            hint = f"did you mean {near[0]!r}?" if near else f"known are {', '.join(known)}"
            raise InputError(f"{place}: {shown(key)} is not known here; {hint}")


def number(values: Mapping[str, Any], key: str, place: str, low: float, high: float) -> float:
    """A number in [low, high] that must be there."""
    value = values.get(key)
    if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
        raise InputError(
            f"{named(place, key)} must be a number from {low:.10g} to {high:.10g}, not {shown(value)}"
        )
    return float(value)


def whole(values: Mapping[str, Any], key: str, place: str, low: int, high: int) -> int:
    """A whole number in [low, high] that must be there."""
    value = number(values, key, place, low, high)
    if not value.is_integer():
        raise InputError(f"{named(place, key)} must be a whole number, not {shown(values[key])}")
    return int(value)


def text(values: Mapping[str, Any], key: str, place: str) -> str | None:
    """A text, None where the key is not there."""
    value = values.get(key)
    if value is not None and not isinstance(value, str):
        raise InputError(f"{named(place, key)} must be text in quotes, not {shown(value)}")
    return value


def switch(values: Mapping[str, Any], key: str, place: str) -> bool | None:
    """True or false, None where the key is not there."""
    value = values.get(key)
    if value is not None and not isinstance(value, bool):
        raise InputError(f"{named(place, key)} must be true or false, not {shown(value)}")
    return value


def colour(values: Mapping[str, Any], key: str, place: str) -> Colour | None:
    """A colour, see `parse_colour`; None where the key is not there."""
    said = text(values, key, place)
    try:
        return None if said is None else parse_colour(said)
    except InputError as error:
        raise InputError(f"{named(place, key)}: {error}") from None


def table(values: Mapping[str, Any], key: str, place: str) -> dict[str, Any]:
    """A table that must be there."""
    found = values.get(key)
    if not isinstance(found, dict):
        raise InputError(f"{place}: the table [{key}] is missing: add it")
    return found


def quoted(text: str) -> str:
    """A text as a TOML file has it: JSON's escapes are TOML's too, but for those of half a sign."""
    whole = text.encode("utf-8", "replace").decode("utf-8")
    return json.dumps(whole, ensure_ascii=False).replace("\x7f", "\\u007f")


def separator_of(text: str) -> str:
    """What parts the fields of a CSV text: spreadsheets write a comma, a semicolon or a tab, by country."""
    return max(",;\t", key=text.partition("\n")[0].count)
