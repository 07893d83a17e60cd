"""What the library's readers say of a file, written down in linear time and within bounds.

Loaded in the decoding process, see `render.read._child`: the standard library only.
"""

from __future__ import annotations

import types
from array import array
from io import BytesIO

# Codes of a record; the first six are those of `render.model.Command`.
STITCH, JUMP, TRIM, COLOUR_CHANGE, STOP, SEQUIN, NEEDLE_SET = range(7)

REACH = 10_000  # 0.1 mm: one metre each way, more than any machine's field
THREADS = 512
NO_COLOUR = -1


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

    def interpolate_duplicate_color_as_stop(self, *, only_after_stop: bool = False) -> None:
        """In some formats a change to the very same thread is how a stop is written; in some only that
        after a stop, which is written as a change to no thread at all."""
        thread, last_change, sewn, stopped = 0, None, False, False
        for at, command in enumerate(self.command):
            if command == STITCH and not sewn:
                sewn = True
                if last_change is None or thread == 0:
                    thread += 1
                elif thread >= len(self.threadlist):
                    return
                elif self.threadlist[thread - 1] == self.threadlist[thread] and (
                    stopped or not only_after_stop
                ):
                    del self.threadlist[thread]
                    self.command[last_change] = STOP
                    stopped = True
                else:
                    thread += 1
                    stopped = False
            elif command in (COLOUR_CHANGE, NEEDLE_SET):
                sewn, last_change = False, at
            elif command == STOP:
                stopped = True

    def colours(self) -> array[int]:
        """Colours as 0xRRGGBB, NO_COLOUR where a thread has none ("random" is none)."""
        found = (getattr(thread, "color", None) for thread in self.threadlist)
        return array("i", [c & 0xFFFFFF if isinstance(c, int) else NO_COLOUR for c in found])
