"""numba's `njit`, with the compiler told what processors are slow at: every kernel is compiled by way of it.

Single instructions that look up eight or sixteen numbers anywhere take longer on many processors than the
same look-ups one by one (drawing takes 1.06 times as long on one of AMD's fourth generation), but the
compiler takes them wherever there are registers of 512 bits.
"""

from __future__ import annotations

import os
import platform

import llvmlite.binding as llvm
from numba import njit
from numba.core import config

__all__ = ["njit"]

SINCE = 18  # the compiler's version that can be told so


def _without_gathers() -> None:
    """Tell the compiler unless the user chose what it may use; once there are kernels nothing changes."""
    chosen = os.environ.get("NUMBA_CPU_FEATURES") or os.environ.get("NUMBA_CPU_NAME")
    here = platform.machine().lower() in {"x86_64", "amd64"} and llvm.llvm_version_info[0] >= SINCE
    if here and not chosen:
        features = llvm.get_host_cpu_features().flatten()
        vars(config)["CPU_FEATURES"] = f"{features},+prefer-no-gather,+prefer-no-scatter"


_without_gathers()
