"""Waivers: what a shop has looked at and means so.

```toml
[[waive]]                        # leave this finding out of the inspection
kind = "thin-cover"
where_mm = [-0.2, 9.0]           # all of the kind without it
within_mm = 3.0
why = "knock-down stitching under the pile"
```
"""

from __future__ import annotations

from typing import Any

from render.errors import InputError
from render.materials.own_file import check_keys, number, quoted, shown, text
from render.model import Waiver

_KEYS = ("kind", "where_mm", "within_mm", "why")
_FURTHEST_MM = 1000.0
WITHIN_MM = 2.0


def waivers_from_rows(rows: Any, place: str) -> tuple[Waiver, ...]:
    """The [[waive]] tables of a job file. Raises InputError."""
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise InputError(f"{place}: write each waiver as a [[waive]] table")
    return tuple(_waiver(row, f"{place}, waive {count}") for count, row in enumerate(rows, 1))


def waiver_text(kind: str, where_mm: tuple[float, float], why: str) -> str:
    """A [[waive]] table as a job file has it."""
    x, y = where_mm
    return (
        f"\n[[waive]]\nkind = {quoted(kind)}\nwhere_mm = [{x:.1f}, {y:.1f}]\n"
        f"within_mm = {WITHIN_MM:.1f}\nwhy = {quoted(why)}\n"
    )


def _waiver(row: dict[str, Any], place: str) -> Waiver:
    check_keys(row, _KEYS, place)
    kind = text(row, "kind", place)
    if not kind:
        raise InputError(f'{place}: say of which kind the finding is: kind = "thin-cover"')
    why = text(row, "why", place) or ""
    where = row.get("where_mm")
    if where is not None:
        if not isinstance(where, list) or len(where) != 2:
            raise InputError(f"{place}: where_mm must be [x, y], not {shown(where)}")
        x, y = (number({"where_mm": at}, "where_mm", place, -_FURTHEST_MM, _FURTHEST_MM) for at in where)
        where = (x, y)
    within = number({"within_mm": WITHIN_MM, **row}, "within_mm", place, 0.1, _FURTHEST_MM)
    return Waiver(kind, where, within, why)
