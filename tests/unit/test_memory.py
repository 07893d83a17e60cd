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
from threading import Thread
from render.memory import keep_freed
if sys.argv[1] == "keep":
    keep_freed()
before = 0
def work():
    blocks = [b"x" * (int(sys.argv[2]) << 20) for _ in range(4)]
for cycle in range(11):
    if cycle == 1:
        before = resource.getrusage(resource.RUSAGE_SELF).ru_minflt
    if sys.argv[3] == "thread":
        worker = Thread(target=work)
        worker.start()
        worker.join()
    else:
        work()
print(resource.getrusage(resource.RUSAGE_SELF).ru_minflt - before)
"""


@pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="only glibc is told to keep what is freed")
@pytest.mark.parametrize(("megabytes", "where"), [(3, "main"), (40, "main"), (12, "thread"), (40, "thread")])
def test_freed_blocks_come_back_without_fresh_pages(megabytes: int, where: str) -> None:
    def pages(how: str) -> int:
        command = [sys.executable, "-c", CYCLES, how, str(megabytes), where]
        return int(subprocess.run(command, check=True, capture_output=True, text=True).stdout)

    # A thread that is new may begin with the empty heap of another, two or three times.
    most = 1000 if where == "main" else pages("leave") // 3
    assert pages("keep") < most < pages("leave")


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


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="only there numpy asks for huge pages")
def test_numpy_asks_for_no_huge_pages() -> None:
    """numpy says 1 of itself as long as it asks for them."""
    command = "import numpy as np; from render.memory import keep_freed; keep_freed(); "
    command += "print(int(np._core.multiarray._get_madvise_hugepage()))"
    done = subprocess.run([sys.executable, "-c", command], check=True, capture_output=True, text=True)
    assert done.stdout.strip() == "0"
