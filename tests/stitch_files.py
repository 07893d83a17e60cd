"""Stitch files made for tests: by the decoding library where it writes a format, by hand where not.

The hand-made HUS, SEW and SHV bytes follow the library's readers. They have not been
compared with files from a machine or from other software.
"""

from __future__ import annotations

import io
import struct
from collections.abc import Sequence

import pyembroidery

STITCH, JUMP, TRIM, STOP, END, COLOUR_CHANGE = 0, 1, 2, 3, 4, 5
WRITERS = {f["extension"]: f["writer"] for f in pyembroidery.EmbPattern.supported_formats() if "writer" in f}

# A record for the makers below: x and y in 0.1 mm (where it ends), and a command as above.
Record = tuple[int, int, int]

RED, GREEN, BLUE = 0xFF0000, 0x00FF00, 0x0000FF

# Two blocks of red with a stop between, then green: a 20 mm stitch, a 20 mm jump that is
# not cut, a cut, a stop and a change.
SAMPLE: tuple[Record, ...] = (
    (0, 0, STITCH),
    (20, 0, STITCH),
    (220, 0, STITCH),
    (240, 10, STITCH),
    (440, 10, JUMP),
    (440, 10, STITCH),
    (450, 30, STITCH),
    (450, 30, TRIM),
    (600, 10, JUMP),
    (600, 10, STITCH),
    (610, 10, STITCH),
    (610, 10, STOP),
    (620, 10, STITCH),
    (630, 10, STITCH),
    (630, 10, COLOUR_CHANGE),
    (640, 10, STITCH),
    (650, 10, STITCH),
)


def write(
    extension: str,
    records: Sequence[Record] = SAMPLE,
    colours: Sequence[int] = (RED, GREEN),
    **settings: object,
) -> bytes:
    """A file of a format that the library writes."""
    pattern = pyembroidery.EmbPattern()
    for colour in colours:
        pattern.add_thread({"color": colour})
    for x, y, command in records:
        if command in (STITCH, JUMP):
            pattern.add_stitch_absolute(command, x, y)
        else:
            pattern.add_command(command, x, y)
    pattern.add_command(END)
    stream = io.BytesIO()
    pyembroidery.EmbPattern.write_embroidery(WRITERS[extension], pattern, stream, settings)
    return stream.getvalue()


def rows(stitches: int) -> list[Record]:
    """A plain fill: rows of 4 mm stitches, 0.4 mm apart, with a change of colour half-way."""
    records: list[Record] = []
    for i in range(stitches):
        row, step = divmod(i, 12)
        records.append((40 * (step if row % 2 == 0 else 11 - step), 4 * row, STITCH))
        if i == stitches // 2:
            records.append((records[-1][0], records[-1][1], COLOUR_CHANGE))
    return records


def steps(records: Sequence[Record]) -> list[Record]:
    """Records as moves from the one before."""
    found, x, y = [], 0, 0
    for to_x, to_y, command in records:
        found.append((to_x - x, to_y - y, command))
        x, y = to_x, to_y
    return found


def byte(value: int) -> int:
    assert -127 <= value <= 127, value
    return value & 0xFF


def sew(records: Sequence[Record], palette: Sequence[int]) -> bytes:
    """SEW: a palette index a colour, stitches from 0x1D78. Holds no trims and no stops."""
    head = struct.pack(f"<H{len(palette)}H", len(palette), *palette)
    body = bytearray()
    for dx, dy, command in steps(records):
        move = bytes((byte(dx), byte(-dy)))
        if command == COLOUR_CHANGE:
            body += b"\x80\x01\x00\x00"
        else:
            body += (b"" if command == STITCH else b"\x80\x04") + move
    return head.ljust(0x1D78, b"\0") + bytes(body)


def shv(records: Sequence[Record], palette: Sequence[int]) -> bytes:
    """SHV: each colour says how many stitches it has; y runs down; a jump has 16 bits."""
    blocks: list[bytearray] = [bytearray()]
    for dx, dy, command in steps(records):
        if command == COLOUR_CHANGE:
            blocks.append(bytearray())
        elif command == JUMP:
            # Out: the long move and two units more that it counts; back: one unit.
            blocks[-1] += b"\x80\x01" + struct.pack(">hh", dx, dy) + b"\x80\x02"
        else:
            blocks[-1] += bytes((byte(dx), byte(dy)))
    head = b"Embroidery disk created".ljust(0x56) + b"\x04demo" + bytes((1, 2)) + bytes(1) + bytes(4)
    head += bytes((len(blocks),)) + bytes(18)
    colours = b"".join(
        struct.pack(">IB", len(block) // 2, colour) + bytes(9)
        for block, colour in zip(blocks, palette, strict=True)
    )
    return head + colours[:-2] + b"".join(blocks)


def hus(records: Sequence[Record], palette: Sequence[int]) -> bytes:
    """HUS: commands, x and y each compressed by one code table of equally long codes."""
    codes = {STITCH: 0x80, JUMP: 0x81, COLOUR_CHANGE: 0x84, TRIM: 0x88, END: 0x90}
    moves = steps([*records, (records[-1][0], records[-1][1], END)])
    streams = [
        _compress([codes[command] for _, _, command in moves]),
        _compress([byte(dx) for dx, _, _ in moves]),
        _compress([byte(-dy) for _, dy, _ in moves]),
    ]
    start = 42 + 2 * len(palette)
    offsets = (start, start + len(streams[0]), start + len(streams[0]) + len(streams[1]))
    head = struct.pack("<IIIhhhhIII", 0x00C8AF5B, len(moves), len(palette), 0, 0, 0, 0, *offsets)
    head += bytes(8) + bytes(2) + struct.pack(f"<{len(palette)}H", *palette)
    return head + b"".join(streams)


def _compress(values: Sequence[int]) -> bytes:
    """One block of literals: 256 codes of 8 bits, so that a code is its own value."""
    bits = f"{len(values):016b}"
    # The table of code lengths has one code of no bits: length 10 - 2 = 8 for all.
    bits += f"{0:05b}{10:05b}" + f"{256:09b}"
    # No distances are used.
    bits += f"{0:05b}{0:05b}"
    bits += "".join(f"{value:08b}" for value in values)
    bits = bits.ljust(-(-len(bits) // 8) * 8, "0")
    return int(bits, 2).to_bytes(len(bits) // 8, "big")
