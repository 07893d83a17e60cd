"""Memory that a kernel will soon need, asked for early: else it waits for one line after the other."""

from __future__ import annotations

from typing import Any

from llvmlite import ir
from numba import types
from numba.core import cgutils
from numba.extending import intrinsic, overload

LINE = 16  # numbers of four bytes in a line of memory


def ask(array: Any, place: Any) -> None:
    """Ask for the line of memory that holds `array[place]`; changes nothing, and does nothing in Python."""


@overload(ask, inline="always")
def _compiled(array: Any, place: Any) -> Any:
    def asked(array: Any, place: Any) -> Any:
        return _asking(array, place)  # type: ignore[call-arg]

    return asked


@intrinsic
def _asking(typing: Any, array: Any, place: Any) -> Any:
    def generate(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        data = context.make_array(array)(context, builder, arguments[0]).data
        byte, number = ir.IntType(8).as_pointer(), ir.IntType(32)
        kind = ir.FunctionType(ir.VoidType(), [byte, number, number, number])
        asking = cgutils.get_or_insert_function(builder.module, kind, "llvm.prefetch.p0i8")  # type: ignore[no-untyped-call]
        at = builder.bitcast(builder.gep(data, [arguments[1]]), byte)
        # To read, of what is used again soon, for numbers.
        builder.call(asking, [at, number(0), number(3), number(1)])
        return context.get_dummy_value()

    return types.void(array, place), generate
