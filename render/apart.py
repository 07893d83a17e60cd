"""Kernels whose arrays never overlap: the compiler may then take many numbers of them at a time."""

from __future__ import annotations

from typing import Any

from numba.core.compiler import Compiler


class Apart(Compiler):
    """For `njit(pipeline_class=Apart)`: tells the compiler that no two arguments share memory.

    Without that a loop that looks numbers up here and stores others there stays one number at a time.
    """

    def __init__(
        self,
        typingctx: Any,
        targetctx: Any,
        library: Any,
        args: Any,
        return_type: Any,
        flags: Any,
        locals: Any,
    ) -> None:
        flags.noalias = True
        all_of_it = (typingctx, targetctx, library, args, return_type, flags, locals)
        super().__init__(*all_of_it)  # type: ignore[no-untyped-call]
