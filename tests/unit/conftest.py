"""What several modules of tests share."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from render.draw.strands import Strands


@pytest.fixture(scope="module")
def crossing() -> Strands:
    """A short satin, a run across it, and a thread dragged from one to the other."""
    import samples

    from render.draw.strands import strands_of

    sewn = samples.sewn_of(
        samples.Part(samples.turned(samples.satin(2.0, 1.6), 20), "satin"),
        samples.Part(samples.running((1.4, -0.9), (-1.2, 0.7), stitch_mm=1.4), "running", 1),
        cut="no",
    )
    return strands_of(sewn, (samples.RED, samples.CREAM), samples.JOB)
