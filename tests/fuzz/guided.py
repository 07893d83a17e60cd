"""Coverage-guided fuzzing of the front door: python fuzz/guided.py CORPUS [libFuzzer options], from the
tests' folder, with the library atheris installed.

The first byte chooses the reader, the rest is the file. The decoding library and what makes sense of its
records run in this process, instrumented; whatever is not an InputError is a finding. Sound files of all
formats that the tests can make are put into an empty CORPUS first.
"""

from __future__ import annotations

import contextlib
import sys
from pathlib import Path

import atheris

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[2])]

with atheris.instrument_imports(include=["pyembroidery", "render.read"]):
    import pyembroidery  # noqa: F401 - its readers are instrumented as they load
    from damage import WHOLE

    from render.errors import InputError
    from render.read import _check_recording, _decode, formats
    from render.read.endings import check_ending
    from render.read.interpret import interpret
    from render.read.sniff import recognise

import numpy as np  # noqa: E402 - not instrumented

from render.read.decoder import Recording  # noqa: E402

FORMATS = formats.known_formats()
LIMIT = 100_000


def read(data: bytes) -> None:
    """What the front door does with a file, but for the process around the decoding."""
    if len(data) < 2:
        return
    form, data = FORMATS[data[0] % len(FORMATS)], data[1:]
    with contextlib.suppress(InputError):
        recognise(data, form.name)
    packed = _decode.decode(form.reader, data, LIMIT)
    outcome, records, needles, colours, ended_at, stopped_at, letters = _decode.ANSWER.unpack_from(packed)
    if outcome == _decode.REFUSED:
        return
    at = _decode.ANSWER.size
    x, y = np.frombuffer(packed, "f8", 2 * records, at).reshape(2, -1)
    at += 16 * records
    command = np.frombuffer(packed, np.uint8, records, at)
    at += records
    needle = np.frombuffer(packed, np.intc, needles, at)
    colour = np.frombuffer(packed, np.intc, colours, at + 4 * needles)
    fault = packed[len(packed) - letters :].decode()
    recording = Recording(np.stack([x, y], 1), command, needle, colour, ended_at, stopped_at, fault)
    try:
        _check_recording(recording, form, data)
        made = interpret(recording, form)
        check_ending(form.name, data, recording)
    except InputError:
        return
    assert np.isfinite(made.xy_mm).all()
    assert np.abs(made.xy_mm).max() <= 1000


def main() -> None:
    """Fill an empty corpus, then fuzz."""
    corpus = Path(sys.argv[1])
    corpus.mkdir(parents=True, exist_ok=True)
    if not any(corpus.iterdir()):
        names = [one.name for one in FORMATS]
        for name, data in WHOLE.items():
            (corpus / name).write_bytes(bytes([names.index(name)]) + data)
    atheris.Setup(sys.argv, read)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
