"""Decodes stitch files in a process of its own, where a hostile one can do no harm.

Run as a script by `render.read.decoder`, isolated from the user's Python set-up, with the limits and
the folders of three packages as arguments: of the decoding library, of the program and of this stage.
It needs the standard library and single modules of them, nothing else, so that it starts in about 20 ms.

It answers requests on standard input, see `render.read._decode`, until its input ends.
"""

from __future__ import annotations

import sys
import types


def limit_process(memory: int, seconds: int) -> None:
    """Limit memory, and from now on processor time, where the system knows how."""
    try:
        import resource
        import signal
    except ImportError:
        return
    # A limit on all of its time, RLIMIT_CPU, is held against a count in ticks, which in a process that serves
    # many files drifts seconds away from the time that getrusage tells. This ends it as well.
    if hasattr(signal, "setitimer"):
        signal.setitimer(signal.ITIMER_PROF, seconds)
    wanted = {resource.RLIMIT_AS: memory, resource.RLIMIT_CORE: 0, resource.RLIMIT_FSIZE: 0}
    for kind, value in wanted.items():
        hard = resource.getrlimit(kind)[1]
        # Some systems list a limit but refuse to set it; the clock of the caller still holds.
        try:
            resource.setrlimit(kind, (value if hard < 0 else min(value, hard), hard))
        except (ValueError, OSError):
            continue


def stand_in(package: str, folder: str) -> None:
    """Let modules be loaded from a package without what the package itself would load: all readers and
    writers of the library, and the numbers that we work with."""
    module = types.ModuleType(package)
    module.__path__ = [folder]
    sys.modules[package] = module


def serve(memory: int, seconds: int) -> None:
    """Answer requests until the input ends."""
    from render.read._decode import REQUEST, decode

    requests, answers = sys.stdin.buffer, sys.stdout.buffer
    while head := requests.read(REQUEST.size):
        limit, name_size, data_size = REQUEST.unpack(head)
        name = requests.read(name_size).decode()
        data = requests.read(data_size)
        limit_process(memory, seconds)
        answers.write(decode(name, data, limit))
        answers.flush()


if __name__ == "__main__":
    for name, folder in zip(("pyembroidery", "render", "render.read"), sys.argv[3:], strict=True):
        stand_in(name, folder)
    serve(int(sys.argv[1]), int(sys.argv[2]))
