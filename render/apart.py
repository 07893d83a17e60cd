"""Kernels whose arrays are lent: no references to them are counted, at two atomic instructions each; and
kernels whose arrays never overlap, of which the compiler may then take many numbers at a time.

Neither may make an array of its own.
"""

from __future__ import annotations

from typing import Any

from numba.core.compiler import Compiler


class Lent(Compiler):
    """For `njit(pipeline_class=Lent)`: whoever calls the kernel holds on to all of its arrays."""

    apart = False

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
        flags.nrt = False
        flags.noalias = self.apart
        all_of_it = (typingctx, targetctx, library, args, return_type, flags, locals)
        super().__init__(*all_of_it)  # type: ignore[no-untyped-call]


class Apart(Lent):
    """For `njit(pipeline_class=Apart)`: tells the compiler that no two arguments share memory.

    Without that a loop that looks numbers up here and stores others there stays one number at a time.
    """

    apart = True
