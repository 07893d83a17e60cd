"""Parts of a proof's pages: facts, the ruler, the list of threads, the codes at the foot."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from render.colour import hex_colour
from render.proof.typesetting import INK, SOFT, line_height

if TYPE_CHECKING:
    from collections.abc import Sequence

    from render.proof.account import Laid, ProofAccount, ProofThread
    from render.proof.typesetting import Sheets
    from render.proof.wording import Words

    Fact = tuple[str, str]

LABEL_PT, FACT_PT, SMALL_PT = 7.0, 9.5, 7.0
# Columns of the list of threads and how high a row is, the most generous first; below TALL_MM a row
# has one line.
LISTS = ((2, 9.2), (3, 9.2), (3, 7.8), (3, 5.4))
TALL_MM = 7.0
SWATCH_MM = (14.0, 6.0)
MM_PER_INCH = 25.4


def fact(
    sheets: Sheets, label: str, value: str, x: float, y: float, width: float, *, most_lines: int = 2
) -> float:
    """A label and under it its value; `y` below both."""
    sheets.line_of_text(label, x, y, size_pt=LABEL_PT, ink=SOFT, width=width)
    top = y + line_height(LABEL_PT) - 0.2
    return sheets.paragraph(value, x, top, width, size_pt=FACT_PT, most_lines=most_lines)


def fact_grid(
    sheets: Sheets,
    facts: Sequence[Fact],
    x: float,
    y: float,
    width: float,
    *,
    columns: int,
    most_lines: int = 2,
) -> float:
    """Facts in rows of so many columns; `y` below the last row."""
    each = width / columns
    for first in range(0, len(facts), columns):
        row = facts[first : first + columns]
        ends = [
            fact(sheets, *one, x + each * at, y, each - 4, most_lines=most_lines)
            for at, one in enumerate(row)
        ]
        y = max(ends) + 2.2
    return y


def order_facts(account: ProofAccount, words: Words) -> list[Fact]:
    """What the job says of the order, but for shop, placement, notes and revision."""
    order = account.order
    pairs = [
        ("customer", order.customer),
        ("order", order.order),
        ("garment", order.garment),
        ("garment_size", order.size),
        ("quantity", order.quantity),
        ("due", order.due),
    ]
    return [(words.say("label", key), value) for key, value in pairs if value]


def design_facts(account: ProofAccount, words: Words) -> list[Fact]:
    """Size, stitches, time and cloth."""
    cloth = account.cloth
    minutes = max(1, round(account.run_time_s / 60))
    under = words.known("stabiliser", cloth.stabiliser, cloth.stabiliser)
    fabric = words.known("fabric", cloth.fabric, cloth.fabric_title)
    return [
        (words.say("label", "size"), size_text(account, words)),
        (words.say("label", "stitches"), words.number(account.stitches)),
        (words.say("label", "colours"), words.number(account.colours)),
        (words.say("label", "run_time"), words.say("text", "minutes", number=minutes)),
        (words.say("label", "cloth"), f"{fabric}, {hex_colour(cloth.colour_srgb)}"),
        (words.say("label", "under"), under),
    ]


def size_text(account: ProofAccount, words: Words) -> str:
    """`80.8 × 80.8 mm`, and in inches on a line of its own."""
    width, height = account.width_mm, account.height_mm
    millimetres = f"{words.number(width, 1)} × {words.mm(height)}"
    inches = f"{words.number(width / MM_PER_INCH, 2)} × {words.inches(height)}"
    return f"{millimetres}\n{inches}"


def ruler(sheets: Sheets, x: float, y: float, length_mm: int, *, scale: float = 1.0) -> float:
    """A ruler of so many millimetres with inches on its lower side, drawn at `scale`; `y` below it."""
    sheets.rule(x, y, x + length_mm * scale, y, ink=INK, width_mm=0.15)
    step = 1 if scale > 0.5 else 5
    for mm in range(0, length_mm + 1, step):
        tick = 2.4 if mm % 10 == 0 else 1.7 if mm % 5 == 0 else 1.0
        sheets.rule(x + mm * scale, y, x + mm * scale, y - tick, ink=INK, width_mm=0.12)
    for mm in range(0, length_mm + 1, 10 if scale > 0.5 else 50):
        sheets.line_of_text(f"{mm}", x + mm * scale, y - 5.2, size_pt=6.0, ink=SOFT, align="middle")
    eighths = int(length_mm / MM_PER_INCH * 8)
    for eighth in range(eighths + 1):
        at = x + eighth / 8 * MM_PER_INCH * scale
        tick = 2.4 if eighth % 8 == 0 else 1.7 if eighth % 4 == 0 else 1.0
        sheets.rule(at, y, at, y + tick, ink=INK, width_mm=0.12)
        if eighth % 8 == 0 and eighth:
            sheets.line_of_text(f"{eighth // 8} in", at, y + 2.4, size_pt=6.0, ink=SOFT, align="middle")
    return y + 5.4


@dataclass(frozen=True, slots=True)
class ListShape:
    """How the list of threads is set: rows of `row_mm` down one column and then the next."""

    columns: int
    rows: int
    row_mm: float

    @property
    def height_mm(self) -> float:
        """Of all rows."""
        return self.rows * self.row_mm


def list_shape(count: int, room_mm: float) -> ListShape | None:
    """The most generous list of so many threads that is no higher than the room; None where none is."""
    for columns, row_mm in LISTS:
        shape = ListShape(columns, -(-count // columns), row_mm)
        if shape.height_mm <= room_mm:
            return shape
    return None


def thread_list(
    sheets: Sheets,
    threads: Sequence[ProofThread],
    swatches: Sequence[bytes],
    words: Words,
    *,
    place: tuple[float, float],
    width: float,
    shape: ListShape,
) -> None:
    """Threads in sewing order with the list's upper left corner at `place`."""
    x, y = place
    each = width / shape.columns
    for at, (thread, swatch) in enumerate(zip(threads, swatches, strict=True)):
        left, top = x + each * (at // shape.rows), y + shape.row_mm * (at % shape.rows)
        write = _thread if shape.row_mm >= TALL_MM else _low_thread
        write(sheets, thread, swatch, words, left, top, each - 3)


def _thread(
    sheets: Sheets, thread: ProofThread, swatch: bytes, words: Words, x: float, y: float, width: float
) -> None:
    """Swatch, name and colour value; kind and size below."""
    colour = hex_colour(thread.colour_srgb)
    sheets.line_of_text(f"{thread.number}", x + 4.2, y + 1.2, size_pt=8.5, ink=SOFT, align="right", width=6.0)
    sheets.picture(swatch, x + 6, y, *SWATCH_MM, alt=f"{thread.label} {colour}".strip())
    left, room = x + 6 + SWATCH_MM[0] + 2.5, width - 8.5 - SWATCH_MM[0]
    _name_and_colour(sheets, thread, left, y - 0.5, room, 8.5)
    sheets.line_of_text(thread_kind(thread, words), left, y + 3.1, size_pt=SMALL_PT, ink=SOFT, width=room)


def _low_thread(
    sheets: Sheets, thread: ProofThread, swatch: bytes, words: Words, x: float, y: float, width: float
) -> None:
    """All on one line."""
    colour = hex_colour(thread.colour_srgb)
    sheets.line_of_text(f"{thread.number}", x + 4.2, y, size_pt=7.5, ink=SOFT, align="right", width=6.0)
    sheets.picture(swatch, x + 6, y - 0.3, 10.0, 4.3, alt=f"{thread.label} {colour}".strip())
    end = _name_and_colour(sheets, thread, x + 18, y, width - 18, 7.5)
    room = x + width - end - 1.5
    if room > 8:
        sheets.line_of_text(thread_kind(thread, words), end + 1.5, y + 0.2, size_pt=6.0, ink=SOFT, width=room)


def _name_and_colour(
    sheets: Sheets, thread: ProofThread, x: float, y: float, width: float, size_pt: float
) -> float:
    """The shop's own word, cut off where it is long, and the colour value, which never is; where they end."""
    colour = hex_colour(thread.colour_srgb)
    long = sheets.width_of(colour, size_pt)
    if thread.label:
        room = width - long - 2
        sheets.line_of_text(thread.label, x, y, size_pt=size_pt, width=room)
        x += min(sheets.width_of(thread.label, size_pt), room) + 2
    sheets.line_of_text(colour, x, y, size_pt=size_pt)
    return x + long


def thread_kind(thread: ProofThread, words: Words) -> str:
    """Kind and size, and what else lies there."""
    parts = [words.say("thread_kind", thread.kind), thread.size]
    if thread.treatment:
        parts.append(words.say("treatment", thread.treatment))
    return " · ".join(parts) + (f": {laid_cloth(thread.laid, words)}" if thread.laid is not None else "")


def laid_cloth(laid: Laid, words: Words) -> str:
    """The cloth of an appliqué: name and colour value."""
    return f"{words.known('fabric', laid.fabric, laid.title)}, {hex_colour(laid.colour_srgb)}"


def grouped(code: str) -> str:
    """A long code in groups of eight."""
    return " ".join(code[at : at + 8] for at in range(0, len(code), 8))


def settings_text(account: ProofAccount) -> str:
    """The settings on a few lines, by the names that the options take; the threads are listed anyway."""
    return "; ".join(
        f"{key}: {value}" for key, value in account.settings.items() if not key.startswith("thread ")
    )
