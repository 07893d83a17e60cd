"""Is the file all there? End codes and header counts against what was decoded."""

from __future__ import annotations

import re
import struct
from typing import TYPE_CHECKING

from render.read import _recorder

if TYPE_CHECKING:
    from collections.abc import Callable

    from render.read.decoder import Recording


def _ends_like_dst(data: bytes, at: int) -> bool:
    return data[at - 1] & 0xF3 == 0xF3


def _ends_like_u01(data: bytes, at: int) -> bool:
    return data[at - 3] & 0x1F == 0x18


# Whether the bytes before `at`, where the reader stopped taking stitches, are the end code.
# A reader that stops without one either met the end of the file or a code it does not know.
END_CODES: dict[str, Callable[[bytes, int], bool]] = {
    "dst": _ends_like_dst,
    "tap": _ends_like_dst,
    "e01": _ends_like_dst,
    "jef": lambda data, at: b"\x80\x10" in (data[at - 2 : at], data[at - 4 : at - 2]),
    "jpx": lambda data, at: b"\x80\x10" in (data[at - 2 : at], data[at - 4 : at - 2]),
    "pes": lambda data, at: data[at - 2] == 0xFF,
    "pec": lambda data, at: data[at - 2] == 0xFF,
    "xxx": lambda data, at: data[at - 4] == 0x7F and data[at - 3] in (0x7F, 0x18),
    "u01": _ends_like_u01,
    "tbf": lambda data, at: data[at - 1] == 0x8F,
    "dsb": lambda data, at: data[at - 3] == 0xF8,
    # No end code is known: the stitches end with the file, after a whole pair of bytes.
    "exp": lambda data, at: at == len(data) and at % 2 == 0,
    "sew": lambda data, at: at >= len(data) - 2 and len(data) % 2 == 0,
}


def _announced_dst(data: bytes) -> int:
    """Records that a text header counts. Writers count a cut as one record or several."""
    found = re.search(rb"\rST: *(\d{1,9})", data[:512])
    return int(found[1]) if found else 0


def _announced_jef(data: bytes) -> int:
    return int(struct.unpack_from("<I", data, 28)[0])


def _announced_hus(data: bytes) -> int:
    return int(struct.unpack_from("<I", data, 4)[0])


def _announced_xxx(data: bytes) -> int:
    return int(struct.unpack_from("<I", data, 0x17)[0])


def _announced_u01(data: bytes) -> int:
    """Only where the file has room for them: what the field counts is known of one writer."""
    records = int(struct.unpack_from("<I", data, 0x8C)[0])
    return records if records <= (len(data) - 0x100) // 3 + 1 else 0


def _shv_end(data: bytes) -> int:
    """Where the stitches must end at least, if beyond the file: two bytes a unit it counts."""
    at = 0x57 + data[0x56]
    at += 2 + -(-data[at + 1] // 2) * data[at] + 4
    colours, at = data[at], at + 19
    counts = [int.from_bytes(data[at + 14 * i : at + 14 * i + 4]) for i in range(colours)]
    end = at + 14 * colours - 2 + 2 * sum(counts)
    return end if end > len(data) + 4 else 0


# Formats with more than padding after the stitches.
TRAILERS = ("pes", "pec", "phb", "phc", "xxx", "zhs")

ANNOUNCED: dict[str, Callable[[bytes], int]] = {
    "dst": _announced_dst,
    "dsb": _announced_dst,
    "dsz": _announced_dst,
    "tbf": lambda data: _announced_dst(data[0x80:]),
    "jef": _announced_jef,
    "hus": _announced_hus,
    "xxx": _announced_xxx,
    "u01": _announced_u01,
}


def _should_end_at(name: str, data: bytes) -> int:
    """Where a length field puts the end of the stitches, 0 where there is none."""
    if name == "vp3":
        at = 8 + struct.unpack_from(">H", data, 6)[0] + 3
        return at + 4 + int(struct.unpack_from(">I", data, at)[0]) if at + 4 <= len(data) else len(data) + 1
    if name in ("pes", "pec"):
        at = 8 if data.startswith(b"#PEC") else int(struct.unpack_from("<I", data, 8)[0])
        at += 514
        return at + int.from_bytes(data[at : at + 3], "little") - 2 if at + 3 <= len(data) else len(data) + 1
    return _shv_end(data) if name == "shv" else 0


def _counted(recording: Recording, name: str) -> int:
    """Decoded records as the most generous writer of that format would count them."""
    records = len(recording.command)
    if name == "jef":
        # Every command takes two places in the count, a stitch one, the end one.
        return 2 * records - int((recording.command == _recorder.STITCH).sum()) + 1
    return records


def unknown_code_at(name: str, data: bytes, recording: Recording) -> int | None:
    """The byte at which the reader gave up before the end of the file, None when it did not."""
    at, code = recording.ended_at, END_CODES.get(name)
    return at if code is not None and 0 <= at < len(data) and not code(data, at) else None


def check_ending(name: str, data: bytes, recording: Recording) -> tuple[str, ...]:
    """Notes on a file that seems cut off or unreadable past some byte; none when it is whole."""
    at = recording.ended_at if recording.ended_at >= 0 else recording.stopped_at
    if recording.fault and recording.ended_at < 0:
        return (f"cut off: the file ends at byte {len(data)} in the middle of its stitches",)
    notes = []
    if recording.fault:
        notes.append(f"damaged after its stitches, near byte {recording.stopped_at}: colours may be missing")
    rest = data[at:]
    code = END_CODES.get(name)
    if unknown_code_at(name, data, recording) is not None:
        notes.append(f"cut off: unknown code at byte {at}, the {len(rest)} bytes after it are not drawn")
    elif code is not None and not code(data, at):
        notes.append(f"cut off: the file ends at byte {len(data)} without an end code")
    elif len(rest) > 16 and len(set(rest)) > 2 and name not in TRAILERS:
        notes.append(f"the stitches end at byte {at}, the {len(rest)} bytes after it are not drawn")
    announced = ANNOUNCED[name](data) if name in ANNOUNCED and len(data) > 32 else 0
    if _counted(recording, name) + 2 < announced:
        notes.append(
            f"cut off: the header announces {announced:,} records, {len(recording.command):,} are there"
        )
    expected = _should_end_at(name, data)
    if expected and abs(at - expected) > 4:
        notes.append(f"cut off or damaged: the stitches end at byte {at}, the header says {expected}")
    return tuple(notes)
