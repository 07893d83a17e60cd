"""Memory that is freed is used again, and none is held for good."""

from __future__ import annotations

import platform
import subprocess
import sys
from threading import get_ident
from typing import Any

import pytest
import scipy.sparse.linalg as spla
from samples import Part, fill, sewn_of

from render.materials.fabrics import load_fabric
from render.materials.stabilisers import load_hoop, make_holding
from render.sew import sew

# Blocks of so many megabytes, without large pages, again and again; what comes anew is told page by page.
CYCLES = """
import resource, sys
from render.memory import keep_freed
if sys.argv[1] == "keep":
    keep_freed()
before = 0
for cycle in range(11):
    if cycle == 1:
        before = resource.getrusage(resource.RUSAGE_SELF).ru_minflt
    blocks = [b"x" * (int(sys.argv[2]) << 20) for _ in range(4)]
    del blocks
print(resource.getrusage(resource.RUSAGE_SELF).ru_minflt - before)
"""


@pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="only glibc is told to keep what is freed")
@pytest.mark.parametrize("megabytes", [3, 40])
def test_freed_blocks_come_back_without_fresh_pages(megabytes: int) -> None:
    def pages(how: str) -> int:
        command = [sys.executable, "-c", CYCLES, how, str(megabytes)]
        return int(subprocess.run(command, check=True, capture_output=True, text=True).stdout)

    assert pages("keep") < 1000 < pages("leave")


def test_what_superlu_takes_is_given_back_on_the_thread_that_took_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """SuperLU keeps a list of its blocks for each thread and frees none that another thread lets go of."""
    made: list[int] = []
    gone: list[int] = []
    splu = spla.splu

    class Told:
        def __init__(self, *args: Any, **options: Any) -> None:
            self.factor, self.thread = splu(*args, **options), get_ident()
            made.append(self.thread)

        def solve(self, rhs: Any) -> Any:
            return self.factor.solve(rhs)

        def __del__(self) -> None:
            gone.append(get_ident())
            assert gone[-1] == self.thread

    monkeypatch.setattr(spla, "splu", Told)
    sew(
        sewn_of(Part(fill(40.0, 40.0), "fill")).plan,
        make_holding(load_fabric("jersey"), hoop=load_hoop("square-100")),
    )
    assert len(made) >= 2
    assert sorted(gone) == sorted(made)
