"""Has one of the library's readers read a file, and packs what it said.

Loaded in the decoding process, see `render.read._child`: the standard library and single modules of
the decoding library, nothing else. A request is REQUEST, the reader's module name and the file; the
answer is ANSWER followed by the arrays it counts, or by a reason.
"""

from __future__ import annotations

import importlib
import struct
from functools import cache
from io import BytesIO
from typing import Any

from render.read._recorder import LimitError, Recorder

# Records, bytes of reader name, bytes of file.
REQUEST = struct.Struct("<IHI")
# Outcome, records, needles, threads, end (see Recorder), where reading stopped, bytes of text.
ANSWER = struct.Struct("<BIIIqqI")
DECODED, FAULT, REFUSED = range(3)

# Entries of all code tables of one compressed file together: 64 of the largest tables for
# each of its three streams; a design within the record limit needs fewer.
TABLE_ENTRIES = 3 * 64 * 65_536
HUS_STITCHES = 250_000

# Everything that the library's readers were seen to raise on damaged files, by base class.
READER_FAULTS = (
    ArithmeticError,
    AssertionError,
    AttributeError,
    EOFError,
    LookupError,
    MemoryError,
    NameError,
    OSError,
    RuntimeError,
    TypeError,
    ValueError,
    struct.error,
)


def check_hus(data: bytes) -> None:
    """Refuse a compressed file whose header promises what its bytes cannot hold."""
    if len(data) < 42:
        raise LimitError(f"ends within its header (byte {len(data)}): export it again")
    _, stitches, _, _, _, _, _, *offsets = struct.unpack_from("<IIIhhhhIII", data)
    if stitches > HUS_STITCHES:
        raise LimitError(
            f"announces {stitches:,} stitches at byte 4, more than {HUS_STITCHES:,}: "
            "it is damaged, export it again"
        )
    if not 42 <= offsets[0] < offsets[1] < offsets[2] < len(data):
        raise LimitError("has a header (bytes 20 to 31) that points outside the file: export it again")


def guard_decompression() -> None:
    """Bound the code tables that the library's decompression builds for the next file."""
    _guarded_huffman().spent = 0


@cache
def _guarded_huffman() -> Any:
    """The library's class for code tables, replaced once a process by one that counts their entries."""
    compress = importlib.import_module("pyembroidery.EmbCompress")

    class Huffman(compress.Huffman):  # type: ignore[misc,name-defined]
        spent = 0

        def build_table(self) -> None:
            width = max(self.lengths)
            entries = sum(1 << (width - n) for n in self.lengths if n)
            Huffman.spent += entries
            if width > 16 or entries > 1 << width or Huffman.spent > TABLE_ENTRIES:
                raise LimitError("has damaged compression tables: export it again")
            super().build_table()

    vars(compress)["Huffman"] = Huffman
    return Huffman


def read_dat(data: bytes, recorder: Recorder) -> Recorder:
    """Two families share this extension; the library would pile one's stitches on the other's."""
    reader = importlib.import_module("pyembroidery.DatReader")
    if reader.read_barudan_dat(recorder.stream, recorder):
        return recorder
    recorder = Recorder(BytesIO(data), recorder.limit)
    reader.read_sunstar_dat(recorder.stream, recorder)
    return recorder


def prepare(reader: str, data: bytes) -> None:
    """What must be in place before one of the library's readers runs."""
    if reader == "HusReader":
        check_hus(data)
        guard_decompression()
    elif reader in ("DstReader", "DsbReader", "DszReader"):
        dst = importlib.import_module("pyembroidery.DstReader")
        vars(dst)["process_header_info"] = Recorder.header_field


def decode(reader: str, data: bytes, limit: int) -> bytes:
    """The answer to one request: `data` read by the library's module `reader`."""
    recorder = Recorder(BytesIO(data), limit)
    outcome, reason = DECODED, ""
    try:
        prepare(reader, data)
        if reader == "DatReader":
            recorder = read_dat(data, recorder)
        else:
            importlib.import_module(f"pyembroidery.{reader}").read(recorder.stream, recorder)
        if reader == "Vp3Reader":
            # The format has no stops: writers begin a block of the very same thread (from memory).
            recorder.interpolate_duplicate_color_as_stop()
        elif reader == "JefReader":
            # Its stops are changes to no colour, and every other one back to the same.
            recorder.interpolate_duplicate_color_as_stop(only_after_stop=True)
    except LimitError as limit_passed:
        outcome, reason = REFUSED, str(limit_passed)
    except MemoryError:
        recorder = Recorder(BytesIO(), 0)
        outcome, reason = REFUSED, "needs too much memory to decode: it is damaged, export it again"
    except READER_FAULTS as fault:
        outcome, reason = FAULT, type(fault).__name__
    return answer(recorder, outcome, reason)


def answer(recorder: Recorder, outcome: int, reason: str) -> bytes:
    """Pack what was recorded, ANSWER first."""
    colours, text = recorder.colours(), reason.encode()
    head = ANSWER.pack(
        outcome,
        len(recorder.command),
        len(recorder.needles),
        len(colours),
        recorder.ended_at,
        recorder.stream.tell(),
        len(text),
    )
    xy = recorder.x.tobytes() + recorder.y.tobytes()
    return head + xy + recorder.command + recorder.needles.tobytes() + colours.tobytes() + text
