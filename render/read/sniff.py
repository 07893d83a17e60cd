"""Which machine format a file is, by its content; the name is only checked against it."""

from __future__ import annotations

import struct
from typing import TYPE_CHECKING

from render.errors import InputError
from render.read.formats import BY_EXTENSION, BY_NAME

if TYPE_CHECKING:
    from collections.abc import Callable

    from render.read.formats import StitchFormat

# What else people hand over by mistake: first bytes (published format specifications) and
# what to call it.
FOREIGN = (
    (b"\x89PNG\r\n\x1a\n", "a PNG picture"),
    (b"\xff\xd8\xff", "a JPEG picture"),
    (b"GIF87a", "a GIF picture"),
    (b"GIF89a", "a GIF picture"),
    (b"II*\0", "a TIFF picture"),
    (b"MM\0*", "a TIFF picture"),
    (b"8BPS", "a layered picture (PSD)"),
    (b"PK\x03\x04", "a ZIP archive"),
    (b"PK\x05\x06", "an empty ZIP archive"),
    (b"Rar!\x1a\x07", "a RAR archive"),
    (b"7z\xbc\xaf\x27\x1c", "a 7z archive"),
    (b"\x1f\x8b\x08", "a gzip archive"),
    (b"%PDF", "a PDF document"),
    (b"%!PS", "a PostScript drawing"),
    (b"{\\rtf", "an RTF document"),
    (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "a compound document (an office or working file)"),
    (b"\x7fELF", "a program"),
    (b"SQLite format 3\0", "a database"),
    (b"ID3", "a sound file"),
)
ADVICE = {
    "archive": "unpack it and give the stitch file inside",
    "working": "export a machine file such as DST, PES or EXP from the program that made it",
}
# Files of the trade, known by extension, that hold no stitches a machine would sew.
NOT_SEWN = {
    "edr": "a list of thread colours",
    "col": "a list of thread colours",
    "inf": "a list of thread colours",
    "pmv": "a decorative stitch of a sewing machine",
    "csv": "a table",
    "json": "a JSON text",
    **dict.fromkeys(("gcode", "g-code", "ngc", "nc"), "a program for a milling machine or plotter"),
}
SAMPLE = 400


def _word(data: bytes, at: int, kind: str = "<I") -> int:
    """The number at a byte offset, or -1 past the end."""
    size = struct.calcsize(kind)
    return int(struct.unpack_from(kind, data, at)[0]) if at + size <= len(data) else -1


def _records(data: bytes, at: int) -> list[bytes]:
    """The first few records of three bytes from a byte offset on."""
    return [data[i : i + 3] for i in range(at, min(len(data) - 2, at + 3 * SAMPLE), 3)]


def _share(records: list[bytes], fits: Callable[[bytes], bool]) -> float:
    return sum(map(fits, records)) / len(records) if records else 0.0


def _header_in_text(data: bytes) -> StitchFormat | None:
    """DST and its two relatives: the same text header, told apart by the bits of the records."""
    if not data.startswith(b"LA:"):
        return None
    records = _records(data, 512)
    shares = {
        "dst": _share(records, lambda r: r[2] & 3 == 3),
        "dsb": _share(records, lambda r: (r[0] & 0x80 == 0x80 and r[0] & 0x1E in (0, 8)) or r[0] >= 0xE7),
        "dsz": _share(records, lambda r: r[2] & 0x80 == 0x80 and r[2] & 3 != 3),
    }
    best = max(shares, key=lambda name: shares[name])
    return BY_NAME[best if shares[best] > shares["dst"] else "dst"]


def _is_jef(data: bytes) -> bool:
    colours = _word(data, 24)
    return 0 <= colours <= 1000 and _word(data, 0) == 0x74 + 8 * colours <= len(data)


def _is_xxx(data: bytes) -> bool:
    end = _word(data, 0xFC)
    colours = _word(data, 0x27, "<H")
    return 0x100 <= end < len(data) and data[end : end + 2] == b"\x7f\x7f" and 0 <= colours <= 512


def _is_sew(data: bytes) -> bool:
    colours = _word(data, 0, "<H")
    if not 1 <= colours <= 256 or len(data) <= 0x1D78 + 4:
        return False
    # Colour indices of a small palette, and nothing but padding before the stitches.
    return all(_word(data, 2 + 2 * i, "<H") <= 0xFF for i in range(colours)) and not any(data[0x1C00:0x1D78])


def _is_u01(data: bytes) -> bool:
    """From byte 256 on every record has its top bit set and a known code, up to the end code.

    A byte pattern of another format may do so for a while, hence eight of them at least.
    """
    for at in range(0x100, len(data) - 2, 3):
        code = data[at] & 0x1F
        if data[at] < 0x80 or code > 0x18:
            return False
        if code == 0x18:
            return at >= 0x100 + 8 * 3
    return len(data) >= 0x100 + 8 * 3


def _is_exp(data: bytes) -> bool:
    """No signature, but pairs of bytes to the very end, with known codes only and at least one."""
    at, codes = 0, 0
    while at < len(data):
        if data[at] == 0x80:
            if data[at + 1 : at + 2] not in (b"\x01", b"\x02", b"\x04", b"\x80"):
                return False
            at, codes = at + 2, codes + 1
        at += 2
    return at == len(data) and codes > 0


SIGNATURES: tuple[tuple[str, Callable[[bytes], bool]], ...] = (
    ("pes", lambda d: d.startswith(b"#PES")),
    ("pec", lambda d: d.startswith(b"#PEC")),
    ("phb", lambda d: d.startswith(b"#PHB")),
    ("phc", lambda d: d.startswith(b"#PHC")),
    ("vp3", lambda d: d.startswith(b"%vsm%\0")),
    ("hus", lambda d: d.startswith(b"\x5b\xaf\xc8\x00")),
    ("shv", lambda d: d.startswith(b"Embroidery disk created")),
    ("tbf", lambda d: d[0x80:0x83] == b"LA:" and len(d) > 0x600),
    ("stx", lambda d: d.startswith(b"STX")),
    ("jef", _is_jef),
    ("xxx", _is_xxx),
    ("sew", _is_sew),
    ("u01", _is_u01),
)
# Formats with a firm beginning: without it a file of that name is something else.
FIRM = {"pes": "#PES", "pec": "#PEC", "vp3": "%vsm%", "hus": "5B AF C8 00", "shv": "Embroidery disk created"}


def by_content(data: bytes) -> StitchFormat | None:
    """The format that the content proves, None where it proves none."""
    return _header_in_text(data) or next((BY_NAME[name] for name, fits in SIGNATURES if fits(data)), None)


def foreign(data: bytes) -> str | None:
    """What a file is that is no stitch file at all, as far as its first bytes tell."""
    for magic, title in FOREIGN:
        if data.startswith(magic):
            return title
    if data[:2] == b"BM" and _word(data, 2) == len(data):
        return "a BMP picture"
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return "a WebP picture"
    if data[4:8] == b"ftyp":
        return "a video or an HEIF picture"
    if data[:2] == b"MZ" and data[_word(data, 0x3C) : _word(data, 0x3C) + 4] == b"PE\0\0":
        return "a program"
    return _text(data)


def _text(data: bytes) -> str | None:
    """Text of some kind, unless it is a header in text with stitches behind it."""
    head = data[:4096]
    if any((byte < 32 and byte not in (9, 10, 12, 13)) or byte == 127 for byte in head):
        return None
    try:
        # A character may be cut at the end of what we look at.
        start = head.decode("utf-8", "strict" if len(data) == len(head) else "ignore").lstrip("\ufeff \t\r\n")
    except UnicodeDecodeError:
        return None
    lower = start[:512].lower()
    if "<svg" in lower:
        return "an SVG drawing"
    if lower.startswith(("<!doctype html", "<html")):
        return "a web page"
    if lower.startswith("<?xml"):
        return "an XML document"
    if lower.startswith(("{", "[")):
        return "a JSON text"
    return "a text file" if len(head) >= 16 else None


def recognise(data: bytes, extension: str) -> tuple[StitchFormat, tuple[str, ...]]:
    """The format of a file, and a note where its name says otherwise.

    `extension` is lower case without a dot, "" where there is none. Raises InputError for
    anything that is no machine file, with a text that completes "the file …".
    """
    found = by_content(data)
    if found is not None:
        if not extension or extension in found.extensions:
            return found, ()
        note = f"named .{extension} but its content is {found.name.upper()}: the content was followed"
        return found, (note,)
    stranger = NOT_SEWN.get(extension) or foreign(data)
    if stranger is not None:
        advice = ADVICE["archive" if "archive" in stranger else "working"]
        raise InputError(f"is {stranger}, not a stitch file: {advice}")
    named = BY_EXTENSION.get(extension)
    if named is None and _is_exp(data):
        return BY_NAME["exp"], ("without a name that says so, read as EXP: its codes fit",)
    if named is None:
        what = f"has the unknown extension .{extension}" if extension else "has no extension"
        raise InputError(
            f"{what} and its content is of no format that can be read: "
            "see `twillight list formats`, or export it as DST, PES or EXP"
        )
    if named.name in FIRM:
        raise InputError(
            f"is named .{extension} but does not begin like one (byte 0: {data[:4].hex(' ').upper()}, "
            f"expected {FIRM[named.name]}): export it again"
        )
    return named, ()
