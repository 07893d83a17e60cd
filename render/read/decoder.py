"""Has a stitch file decoded in a limited process of its own, see `render.read._child`."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from threading import Timer
from typing import IO, TYPE_CHECKING, Self

import numpy as np

from render.errors import InputError
from render.read import _child, _decode

if TYPE_CHECKING:
    from render.model import Floats, Ints

# A file of the default size limits takes well under a second of processor time on an idle computer; larger
# limits ask for memory in proportion, and for so many times as much time: who asks for them knows the file.
MEMORY_BYTES = 256 * 2**20
CPU_SECONDS, PATIENCE = 2, 4
# Windows counts no processor time for us. Elsewhere the clock only guards against a process that stands
# still: on a busy computer it runs far ahead of the work, and a good file is not to be called damaged.
WALL_SECONDS = 5 if sys.platform == "win32" else 60
USUAL_STITCHES = 500_000


@dataclass(frozen=True, slots=True, eq=False)
class Recording:
    """What a reader said, record by record, before it means anything.

    `xy (N, 2)` in 0.1 mm; `command (N,)` as `_recorder` numbers them; `needles` one a
    NEEDLE_SET; `colours` as 0xRRGGBB or -1. `ended_at` is the byte after the stitches
    (-1: the reader did not say), `stopped_at` where reading stopped. `fault` names what
    the reader stumbled over, "" when nothing.
    """

    xy: Floats
    command: Ints
    needles: Ints
    colours: Ints
    ended_at: int
    stopped_at: int
    fault: str


class Decoder:
    """A process that decodes one file after another, until the block is left.

        with Decoder() as decoder:
            recording = decoder.decode("DstReader", data)

    Each file may take `MEMORY_BYTES` and `CPU_SECONDS` where the system can enforce it,
    and `WALL_SECONDS` anywhere; after a file that breaks a limit the process is gone.
    """

    def __init__(self, max_stitches: int = USUAL_STITCHES) -> None:
        self.max_stitches = max_stitches
        self.scale = max(1, -(-max_stitches // USUAL_STITCHES))
        self.cpu_seconds = CPU_SECONDS * (1 + PATIENCE * (self.scale - 1))

    def __enter__(self) -> Self:
        library = find_spec("pyembroidery")
        if library is None or not library.submodule_search_locations:
            raise InputError(
                "cannot be read without the pyembroidery library: run `pip install twillight` again"
            )
        # -I and -S: neither the working directory nor the user's start-up files are run.
        options = ["-I", "-S", "-B", "-X", "utf8"]
        limits = [str(MEMORY_BYTES * self.scale), str(self.cpu_seconds)]
        here = Path(__file__).parent
        folders = [library.submodule_search_locations[0], str(here.parent), str(here)]
        try:
            self.process = subprocess.Popen(
                [sys.executable, *options, _child.__file__, *limits, *folders],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
            )
        except OSError as error:
            raise InputError(
                f"cannot be read: a second {sys.executable or 'Python'} to decode it in cannot be started "
                f"({error.strerror or error}): make sure that you may run it"
            ) from None
        return self

    def __exit__(self, *exception: object) -> None:
        self.process.kill()
        self.process.wait()
        for pipe in (self.process.stdin, self.process.stdout):
            if pipe is not None:
                _close(pipe)

    def decode(self, reader: str, data: bytes) -> Recording:
        """Decode one file. Raises InputError with a text that completes "the file …"."""
        name = reader.encode()
        head = _decode.REQUEST.pack(min(self.max_stitches, 2**32 - 1), len(name), len(data))
        timer = Timer(WALL_SECONDS * self.scale, self.process.kill)
        timer.start()
        try:
            return self._exchange(head + name + data)
        except (OSError, EOFError):
            # It may be on its way out: the next file must not find it still there.
            self.process.kill()
            self.process.wait()
            raise InputError(
                f"took more than {self.cpu_seconds} seconds or too much memory to decode "
                "and was given up: it is damaged, or large for this computer; export it again, or allow it "
                f"more with --max-stitches {2 * self.scale * USUAL_STITCHES}"
            ) from None
        finally:
            timer.cancel()

    def _exchange(self, request: bytes) -> Recording:
        assert self.process.stdin is not None
        self.process.stdin.write(request)
        self.process.stdin.flush()
        outcome, records, needles, colours, ended_at, stopped_at, letters = _decode.ANSWER.unpack(
            self._receive(_decode.ANSWER.size)
        )
        x = np.frombuffer(self._receive(8 * records))
        y = np.frombuffer(self._receive(8 * records))
        command = np.frombuffer(self._receive(records), np.uint8)
        needle = np.frombuffer(self._receive(4 * needles), np.intc)
        colour = np.frombuffer(self._receive(4 * colours), np.intc)
        text = self._receive(letters).decode()
        if outcome == _decode.REFUSED:
            raise InputError(text)
        return Recording(
            xy=np.stack([x, y], axis=1),
            command=command,
            needles=needle,
            colours=colour,
            ended_at=ended_at,
            stopped_at=stopped_at,
            fault=text,
        )

    def _receive(self, size: int) -> bytes:
        assert self.process.stdout is not None
        received = self.process.stdout.read(size)
        if len(received) < size:
            raise EOFError
        return received


def _close(pipe: IO[bytes]) -> None:
    """Close a pipe whose other end may be gone with unsent bytes in it."""
    try:
        pipe.close()
    except OSError:
        return
