"""What goes to standard output, or fails in our own words."""

from __future__ import annotations

import contextlib
import os
import sys
from typing import TYPE_CHECKING

import typer

from render.errors import OutputError

if TYPE_CHECKING:
    from collections.abc import Iterator


@contextlib.contextmanager
def standard_output() -> Iterator[None]:
    """Write what is printed, or raise OutputError."""
    try:
        yield
        sys.stdout.flush()
    except OSError as error:
        # Keep Python from trying, and complaining, once more at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        if isinstance(error, BrokenPipeError):  # whoever read it has seen enough
            raise typer.Exit(OutputError.exit_code) from None
        raise OutputError(f"cannot write to standard output: {str(error.strerror).lower()}") from error
