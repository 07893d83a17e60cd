"""How much sooner a small scene is drawn than path-traced: python -m tests.bench.tracing.

Both are processor seconds of the same machine in one run. Of the tracing a few paths a pixel are run, and
counted as often as the kept pictures have them; tables of light and compiled kernels are ready.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

TRACED_SAMPLES, DRAWN = 16, 20


def main() -> None:
    sys.path.insert(0, str(Path(__file__).parents[1]))
    from reference import scenes
    from reference.pairs import ALBEDO

    print("| scene | paths a pixel | traced | drawn | ratio |\n|---|---|---|---|---|")
    for name in scenes.SCENES:
        whole = scenes.PASSES[name] * scenes.PASS_SAMPLES
        strands, stack, turn = scenes.kept(name)
        threads = scenes.cords(strands, stack, turn)
        scenes.traced(threads, samples_n=1, seed=1)
        traced = _seconds(lambda t=threads: scenes.traced(t, samples_n=TRACED_SAMPLES, seed=2))
        traced *= whole / TRACED_SAMPLES
        scenes.drawn(strands, stack, ALBEDO)
        drawn = min(_seconds(lambda s=strands, k=stack: scenes.drawn(s, k, ALBEDO)) for _ in range(DRAWN))
        print(f"| {name} | {whole} | {traced:.0f} s | {drawn:.3f} s | {traced / drawn:,.0f} |", flush=True)


def _seconds(run: Callable[[], Any]) -> float:
    begun = time.process_time()
    run()
    return time.process_time() - begun


if __name__ == "__main__":
    main()
