"""The command `twillight` from its first moment, also from a checkout: `python -m render`.

Loading the command line takes a while, in which somebody may already have thought better of it.
"""

from __future__ import annotations

import signal
import sys


def main() -> None:
    """Load the command line and run it."""
    signal.signal(signal.SIGTERM, _end)
    try:
        from render.cli import main as command

        command()
    except KeyboardInterrupt:
        _end(signal.SIGINT, None)


def _end(number: int, frame: object) -> None:
    sys.stderr.write("twillight: stopped\n")
    sys.exit(128 + number)


if __name__ == "__main__":
    main()
