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


@pytest.fixture
def small(monkeypatch: pytest.MonkeyPatch) -> None:
    """Tiles of 6 mm at 20 px/mm: quick to build, and they repeat often."""
    from cloth_tiles import small_tile, use_tiles

    from render.materials.fabrics import fabric_names, load_fabric

    by_structure = {str(load_fabric(n).structure): n for n in fabric_names()}
    use_tiles(monkeypatch, lambda structure: small_tile(by_structure[str(structure)]))
