"""What the compiler is told, by the instructions that it makes."""

from __future__ import annotations

import ast
import platform
from pathlib import Path
from typing import Any

import llvmlite.binding as llvm
import numpy as np
import pytest
from numba.core import config

from render import compiled
from render.ahead import LINE, ask
from render.apart import Apart
from render.compiled import njit

PACKAGE = Path(compiled.__file__).parent
ON_X86 = platform.machine().lower() in {"x86_64", "amd64"}
needs_compiler = pytest.mark.skipif(bool(config.DISABLE_JIT), reason="kernels are not compiled")


def look_up(places: Any, numbers: Any, out: Any) -> None:
    for k in range(len(places)):
        out[k] = numbers[np.uintp(places[k])] * np.float32(3.0)


def asked(numbers: Any) -> float:
    total = 0.0
    for k in range(len(numbers)):
        ask(numbers, k + LINE)
        total += numbers[k]
    return total


@needs_compiler
@pytest.mark.skipif(
    not ON_X86 or llvm.llvm_version_info[0] < compiled.SINCE, reason="other compilers cannot be told"
)
def test_no_instruction_looks_up_many_numbers_at_once() -> None:
    kernel = njit(error_model="numpy", pipeline_class=Apart)(look_up)
    places, numbers = np.array([3, 1, 2] * 20, np.int32), np.arange(4, dtype=np.float32)
    out = np.empty(60, np.float32)
    kernel(places, numbers, out)
    np.testing.assert_array_equal(out, np.float32(3.0) * numbers[places])
    (text,) = kernel.inspect_asm().values()
    assert "gather" not in text
    assert "mulps" in text, "it is no longer worked out many at a time"


@needs_compiler
def test_what_is_asked_for_is_only_asked_for() -> None:
    """Beyond the end of the numbers as well: that is no fault of memory."""
    kernel = njit(asked)
    numbers = np.arange(1000.0)
    assert kernel(numbers) == asked(numbers) == numbers.sum()
    if ON_X86:
        (text,) = kernel.inspect_asm().values()
        assert "prefetch" in text


def test_every_kernel_is_compiled_so() -> None:
    for module in PACKAGE.rglob("*.py"):
        if module.name == "compiled.py":
            continue
        for node in ast.walk(ast.parse(module.read_text("utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.module == "numba":
                assert "njit" not in {alias.name for alias in node.names}, module
