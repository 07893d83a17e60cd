"""Memory that is freed is used again."""

from __future__ import annotations

import platform
import subprocess
import sys

import pytest

# Twelve megabytes at a time, in blocks too small for large pages, again and again; what comes anew is told
# page by page.
CYCLES = """
import resource, sys
import numpy as np
from render.memory import keep_freed
if sys.argv[1] == "keep":
    keep_freed()
before = 0
for cycle in range(11):
    if cycle == 1:
        before = resource.getrusage(resource.RUSAGE_SELF).ru_minflt
    blocks = [np.ones(3 << 20, np.uint8) for _ in range(4)]
    del blocks
print(resource.getrusage(resource.RUSAGE_SELF).ru_minflt - before)
"""


@pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="only glibc is told to keep what is freed")
def test_freed_blocks_come_back_without_fresh_pages() -> None:
    def pages(how: str) -> int:
        done = subprocess.run([sys.executable, "-c", CYCLES, how], check=True, capture_output=True, text=True)
        return int(done.stdout)

    assert pages("keep") < 1000 < pages("leave")
