"""The list that a swatch's readings are written into: CSV, one line a column.

| heading | meaning |
|---|---|
| `row` | the large digit beside the row, 1 to 6 |
| `width_mm` | the small digit at the column: its programmed width |
| `spacing_mm`, `stitches` | how it is sewn, for information: across the arrow or along it |
| `reading_1_mm` … `reading_3_mm` | the widths read, empty where none was |

A `notes` heading may be added, and more readings. Fields are parted by commas, or, as some
spreadsheets write them, by semicolons or tabs; only then may numbers have a decimal comma.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from render.swatch.columns import Swatch

READINGS = 3
PROGRAMMED = ("row", "width_mm", "spacing_mm", "stitches")


def readings_template(swatch: Swatch) -> str:
    """The list with its programmed widths filled in and its readings empty."""
    headings = (*PROGRAMMED, *(f"reading_{k + 1}_mm" for k in range(READINGS)))
    empty = "," * READINGS
    rows = sorted(swatch.columns, key=lambda column: (column.row, column.width_mm))
    lines = [f"{c.row},{c.width_mm},{c.spacing_mm},{c.stitches}{empty}" for c in rows]
    return "\n".join((",".join(headings), *lines)) + "\n"
