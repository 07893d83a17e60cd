"""Readings of a sewn swatch: the list a shop has filled in, checked line by line."""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from render.errors import InputError
from render.materials.own_file import check_keys, read_text, separator_of, shown
from render.model import freeze
from render.swatch.template import PROGRAMMED

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from render.model import Floats, Ints
    from render.swatch import Column

LEAST_SHARE, MOST_OVER_MM = 0.5, 0.5  # of the programmed width, and beyond it: else misread (estimate)
MOST_SPREAD_MM = 0.5  # between readings of one column (estimate)


@dataclass(frozen=True, slots=True, eq=False)
class Readings:
    """Widths as read, one entry a measured column, mm.

    `column (M,)` indexes the swatch's columns; a column measured on two swatches is here twice.
    `mean_mm (M,)` of `count (M,)` readings, with the sum of their squared departures from it
    `departures_mm2 (M,)`. `finest_mm` is the step in which the readings were noted.
    """

    column: Ints
    mean_mm: Floats
    count: Ints
    departures_mm2: Floats
    finest_mm: float

    def __post_init__(self) -> None:
        many = len(self.column)
        freeze(self, column=(many,), mean_mm=(many,), count=(many,), departures_mm2=(many,))


def read_readings(paths: Sequence[str], columns: tuple[Column, ...]) -> Readings:
    """The readings of one or more swatches. Raises InputError that names file and line."""
    found = [entry for path in paths for entry in _parse(read_text(path, "readings"), path, columns)]
    if not found:
        raise InputError(
            f"{', '.join(paths)} holds no readings: write the widths read beside the programmed ones"
        )
    return gather(found)


def gather(found: list[tuple[int, list[float]]]) -> Readings:
    """Readings from the index of each measured column and the widths read on it."""
    values = [np.array(widths) for _, widths in found]
    everything = np.concatenate(values)
    finest = next((step for step in (0.5, 0.1, 0.05) if _in_steps(everything, step)), 0.01)
    return Readings(
        np.array([column for column, _ in found]),
        np.array([widths.mean() for widths in values]),
        np.array([len(widths) for widths in values]),
        np.array([((widths - widths.mean()) ** 2).sum() for widths in values]),
        finest,
    )


def _in_steps(values: Floats, step: float) -> bool:
    return bool((np.abs(values / step - np.round(values / step)) < 1e-6).all())


def _parse(text: str, path: str, columns: tuple[Column, ...]) -> list[tuple[int, list[float]]]:
    """Index of each measured column with its readings."""
    lines = text.splitlines()
    separator = separator_of(text)
    rows = _rows(lines, path, separator)
    headings = [heading.strip().lower() for heading in next(rows, (1, []))[1]]
    _check_headings(headings, path)
    by_name = {(float(column.row), float(column.width_mm)): k for k, column in enumerate(columns)}
    found: list[tuple[int, list[float]]] = []
    seen: dict[int, int] = {}
    for line, fields in rows:
        place = f"{path}, line {line}"
        if not any(field.strip() for field in fields):
            continue
        if len(fields) > len(headings):
            raise InputError(
                f"{place}: {len(fields)} fields under {len(headings)} headings: "
                "part the fields by semicolons or tabs if the numbers have decimal commas"
            )
        values = dict(zip(headings, (field.strip() for field in fields), strict=False))
        row, width = (_number(values.get(key, ""), place, separator) for key in ("row", "width_mm"))
        index = by_name.get((row, width))
        if index is None:
            raise InputError(
                f"{place}: the swatch has no column of {width:g} mm in row {row:g}: "
                "row and width_mm are the digits sewn beside it"
            )
        if index in seen:
            raise InputError(
                f"{place}: row {row:g}, {width:g} mm stands in line {seen[index]} already: keep one"
            )
        seen[index] = line
        widths = [
            _number(value, place, separator)
            for key, value in values.items()
            if key.startswith("reading") and value
        ]
        if widths:
            _check_widths(widths, columns[index], place)
            found.append((index, widths))
    return found


def _rows(lines: list[str], path: str, separator: str) -> Iterator[tuple[int, list[str]]]:
    """The fields of each line, with its number."""
    reader = csv.reader(lines, delimiter=separator)
    try:
        for fields in reader:
            yield reader.line_num, fields
    except csv.Error as error:
        raise InputError(f"{path}, line {reader.line_num}: {error}: that is no list of readings") from None


def _check_headings(headings: list[str], path: str) -> None:
    given = [heading for heading in headings if heading]
    readings = [h for h in given if re.fullmatch(r"reading_([1-9]\d?)_mm", h)]
    if not {"row", "width_mm"} <= set(given) or not readings:
        raise InputError(
            f"{path}, line 1: the headings must hold row, width_mm and reading_1_mm, as in the list "
            "that comes with the swatch"
        )
    if len(set(given)) != len(given):
        raise InputError(f"{path}, line 1: a heading stands there twice: keep one")
    check_keys(dict.fromkeys(given), (*PROGRAMMED, "notes", *readings), f"{path}, line 1")


def _number(text: str, place: str, separator: str) -> float:
    """A number, with a decimal comma where no commas part the fields."""
    plain = text if separator == "," else text.replace(",", ".")
    if not re.fullmatch(r"\d{1,4}(\.\d{1,6})?", plain):
        raise InputError(f"{place}: {shown(text)} is no width in mm: write it as 3.72")
    return float(plain)


def _check_widths(widths: list[float], column: Column, place: str) -> None:
    for width in widths:
        if not LEAST_SHARE * column.width_mm <= width <= column.width_mm + MOST_OVER_MM:
            raise InputError(
                f"{place}: a column of {column.width_mm} mm does not sew out {width:g} mm wide: "
                "measure it again, in mm, from edge to edge of the stitching"
            )
    if max(widths) - min(widths) > MOST_SPREAD_MM:
        raise InputError(
            f"{place}: readings of {min(widths):g} and {max(widths):g} mm on one column lie too far "
            "apart: measure it again"
        )
