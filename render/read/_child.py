"""Decodes stitch files in a process of its own, where a hostile one can do no harm.

Run as a script by `render.read.decoder`, isolated from the user's Python set-up, with the
folder of the decoding library and the limits as arguments. It needs the standard library
and single modules of that library, nothing else, so that it starts in about 20 ms.

A request on standard input is REQUEST, the reader's module name and the file; the answer
on standard output is ANSWER followed by the arrays it counts, or by a reason. The process
answers until its input ends.
"""

from __future__ import annotations

import importlib
import struct
import sys
import types
from array import array
from io import BytesIO

# Codes of a record; the first six are those of `render.model.Command`.
STITCH, JUMP, TRIM, COLOUR_CHANGE, STOP, SEQUIN, NEEDLE_SET = range(7)

# Records, bytes of reader name, bytes of file.
REQUEST = struct.Struct("<IHI")
# Outcome, records, needles, threads, end (see Recorder), where reading stopped, bytes of text.
ANSWER = struct.Struct("<BIIIqqI")
DECODED, FAULT, REFUSED = range(3)

REACH = 10_000  # 0.1 mm: one metre each way, more than any machine's field
THREADS = 512
NO_COLOUR = -1
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


class LimitError(Exception):
    """A limit is passed; the text completes the sentence "the file …"."""


class Threads(list):  # type: ignore[type-arg]
    """The thread list as readers fill it: bounded, a thread of unknown colour past its end."""

    def append(self, thread: object) -> None:
        if len(self) >= THREADS:
            raise LimitError(f"lists more than {THREADS} thread colours: it is damaged, export it again")
        super().append(thread)

    def __getitem__(self, index):  # type: ignore[no-untyped-def]
        return super().__getitem__(index) if isinstance(index, slice) or index < len(self) else UNKNOWN


UNKNOWN = types.SimpleNamespace(color=None)


class Recorder:
    """Stands in for the library's pattern: takes what a reader says, in linear time.

    Positions are 0.1 mm, y down. `ended_at` is the byte where the stitches ended (-1:
    the reader never said so).
    """

    def __init__(self, stream: BytesIO, limit: int) -> None:
        self.stream = stream
        self.limit = limit
        self.x, self.y = array("d"), array("d")
        self.command = bytearray()
        self.stitches = 0
        self.needles = array("i")
        self.threadlist = Threads()
        self.ended_at = -1
        self._previousX: float = 0
        self._previousY: float = 0

    def _add(self, command: int, x: float, y: float) -> None:
        if not (-REACH <= x <= REACH and -REACH <= y <= REACH):
            raise LimitError(
                f"reaches to ({x / 10:.6g}, {y / 10:.6g}) mm, over a metre from its origin, by byte "
                f"{self.stream.tell()}: it is damaged or of another format, export it again"
            )
        # Whatever is no stitch, such as a jump, may come as often again.
        self.stitches += command == STITCH
        if max(self.stitches, len(self.command) + 1 - self.stitches) > self.limit:
            what = "stitches" if command == STITCH else "jumps, trims and the like"
            raise LimitError(
                f"holds more than {self.limit:,} {what} by byte {self.stream.tell()}: "
                "raise --max-stitches if it really is one design"
            )
        self._previousX, self._previousY = x, y
        self.x.append(x)
        self.y.append(y)
        self.command.append(command)

    def stitch(self, dx: float = 0, dy: float = 0) -> None:
        self._add(STITCH, self._previousX + dx, self._previousY + dy)

    def move(self, dx: float = 0, dy: float = 0) -> None:
        self._add(JUMP, self._previousX + dx, self._previousY + dy)

    def stitch_abs(self, x: float, y: float) -> None:
        self._add(STITCH, x, y)

    def move_abs(self, x: float, y: float) -> None:
        self._add(JUMP, x, y)

    def trim(self, dx: float = 0, dy: float = 0) -> None:
        self._add(TRIM, self._previousX + dx, self._previousY + dy)

    def stop(self, dx: float = 0, dy: float = 0) -> None:
        self._add(STOP, self._previousX + dx, self._previousY + dy)

    def color_change(self, dx: float = 0, dy: float = 0) -> None:
        self._add(COLOUR_CHANGE, self._previousX + dx, self._previousY + dy)

    def sequin_eject(self, dx: float = 0, dy: float = 0) -> None:
        self._add(SEQUIN, self._previousX + dx, self._previousY + dy)

    def sequin_mode(self, dx: float = 0, dy: float = 0) -> None:
        if dx or dy:
            self.move(dx, dy)

    def needle_change(self, needle: int = 0, dx: float = 0, dy: float = 0) -> None:
        self.needles.append(needle)
        self._add(NEEDLE_SET, self._previousX + dx, self._previousY + dy)

    # One reader says it by this name.
    needle_out = needle_change

    def add_stitch_relative(self, command: int, dx: float = 0, dy: float = 0) -> None:
        """Only stitches and jumps come this way, and changes of speed, which show nowhere."""
        if command in (STITCH, JUMP):
            self._add(command, self._previousX + dx, self._previousY + dy)

    def end(self, dx: float = 0, dy: float = 0) -> None:
        self.ended_at = self.stream.tell()

    def add_thread(self, thread: object) -> None:
        if isinstance(thread, dict):
            thread = types.SimpleNamespace(color=thread.get("color"))
        elif isinstance(thread, int):
            thread = types.SimpleNamespace(color=thread)
        self.threadlist.append(thread)

    def header_field(self, prefix: str, value: str) -> None:
        """A line of a text header; TC lines carry a colour as hex, then words we do not pass on."""
        if prefix == "TC":
            digits = value.split(",")[0].strip().lstrip("#")
            known = len(digits) == 6 and all(c in "0123456789abcdefABCDEF" for c in digits)
            self.add_thread({"color": int(digits, 16) if known else None})

    def metadata(self, name: str, data: object) -> None:
        """Names, authors and icons are of no use here."""

    def interpolate_trims(self, *rule: object) -> None:
        """The library guesses trims in quadratic time; we read them raw."""

    def interpolate_duplicate_color_as_stop(self) -> None:
        """In some formats a change to the very same thread is how a stop is written."""
        thread, last_change, sewn = 0, None, False
        for at, command in enumerate(self.command):
            if command == STITCH and not sewn:
                sewn = True
                if last_change is None or thread == 0:
                    thread += 1
                elif thread >= len(self.threadlist):
                    return
                elif self.threadlist[thread - 1] == self.threadlist[thread]:
                    del self.threadlist[thread]
                    self.command[last_change] = STOP
                else:
                    thread += 1
            elif command in (COLOUR_CHANGE, NEEDLE_SET):
                sewn, last_change = False, at

    def colours(self) -> array[int]:
        """Colours as 0xRRGGBB, NO_COLOUR where a thread has none ("random" is none)."""
        found = (getattr(thread, "color", None) for thread in self.threadlist)
        return array("i", [c & 0xFFFFFF if isinstance(c, int) else NO_COLOUR for c in found])


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
    """Bound the code tables that the library's decompression builds."""
    compress = importlib.import_module("pyembroidery.EmbCompress")
    spent = 0

    class Huffman(compress.Huffman):  # type: ignore[misc,name-defined]
        def build_table(self) -> None:
            nonlocal spent
            width = max(self.lengths)
            entries = sum(1 << (width - n) for n in self.lengths if n)
            spent += entries
            if width > 16 or entries > 1 << width or spent > TABLE_ENTRIES:
                raise LimitError("has damaged compression tables: export it again")
            super().build_table()

    vars(compress)["Huffman"] = Huffman


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


def limit_process(memory: int, seconds: int) -> None:
    """Limit memory, and from now on processor time, where the system knows how."""
    try:
        import resource
    except ImportError:
        return
    used = sum(resource.getrusage(resource.RUSAGE_SELF)[:2])
    wanted = {
        resource.RLIMIT_AS: memory,
        resource.RLIMIT_CORE: 0,
        resource.RLIMIT_FSIZE: 0,
        resource.RLIMIT_CPU: round(used) + seconds,
    }
    for kind, value in wanted.items():
        hard = resource.getrlimit(kind)[1]
        # Some systems list a limit but refuse to set it; the clock of the caller still holds.
        try:
            resource.setrlimit(kind, (value if hard < 0 else min(value, hard), hard))
        except (ValueError, OSError):
            continue


def serve(library: str, memory: int, seconds: int) -> None:
    """Answer requests until the input ends."""
    # The library's own __init__ would import all its readers and writers.
    package = types.ModuleType("pyembroidery")
    package.__path__ = [library]
    sys.modules["pyembroidery"] = package
    requests, answers = sys.stdin.buffer, sys.stdout.buffer
    while head := requests.read(REQUEST.size):
        limit, name_size, data_size = REQUEST.unpack(head)
        name = requests.read(name_size).decode()
        data = requests.read(data_size)
        limit_process(memory, seconds)
        answers.write(decode(name, data, limit))
        answers.flush()


if __name__ == "__main__":
    serve(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]))
