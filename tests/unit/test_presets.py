"""Every number that ships has a source, and what is estimated is known."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

PRESETS = Path(__file__).parents[2] / "render" / "presets"
# Words and colours carry no numbers.
FILES = sorted(
    file for file in PRESETS.rglob("*.toml") if file.parent.name != "words" and file.name != "threads.toml"
)
# Where a value was not measured, published or derived, but guessed: make this list shorter.
ESTIMATED = {
    "threads/cotton.toml",
    "threads/glow-in-the-dark.toml",
    "threads/metallic.toml",
    "threads/neon.toml",
    "threads/wool-blend.toml",
    "garments.toml garment.place.back",
    "garments.toml garment.place.chest",
    "garments.toml garment.place.front",
    "garments.toml garment.place.left-chest",
    "garments.toml garment.place.left-sleeve",
    "garments.toml garment.place.nape",
    "garments.toml garment.place.right-chest",
    "garments.toml garment.place.right-sleeve",
    "garments.toml garment.place.upper-back",
    "groups.toml",
    "production.toml order",
    "production.toml thread",
    "production.toml time",
    "stabilisers.toml held.bonded",
    "stabilisers.toml held.floated",
    "stabilisers.toml held.hooped",
    "stabilisers.toml held.over-stretched",
    "stabilisers.toml spread",
    "stabilisers.toml stabiliser.cut-away",
    "stabilisers.toml stabiliser.cut-away-two-layers",
    "stabilisers.toml stabiliser.tear-away",
    "stabilisers.toml stabiliser.tear-away-two-layers",
    "stabilisers.toml stitch",
    "threads/rayon.toml yarn",
    "threads/trilobal-polyester.toml yarn",
    "threads/cotton.toml yarn",
    "threads/matte-polyester.toml yarn",
    "threads/glow-in-the-dark.toml yarn",
    "threads/metallic.toml yarn",
    "threads/neon.toml yarn",
    "threads/wool-blend.toml yarn",
}


def sources(values: Any, place: str, source: str | None) -> Iterator[tuple[str, str | None]]:
    """Each table that holds a number, with its own source or that of the table around it."""
    if isinstance(values, dict):
        source = values.get("source", source)
        if any(isinstance(v, int | float) for v in values.values()):
            yield place, source
        for key, value in values.items():
            yield from sources(value, f"{place}.{key}", source)
    elif isinstance(values, list):
        if any(isinstance(v, int | float) for v in values):
            yield place, source
        for value in values:
            yield from sources(value, place, source)


@pytest.mark.parametrize("file", FILES, ids=lambda f: str(f.relative_to(PRESETS)))
def test_every_number_has_a_source(file: Path) -> None:
    found = list(sources(tomllib.loads(file.read_text("utf-8")), "", None))
    assert found, "a preset without numbers"
    assert not [place for place, source in found if not (isinstance(source, str) and len(source) >= 8)]


def test_the_walk_sees_a_number_without_source() -> None:
    values = tomllib.loads("[a]\nsource = 'a handbook'\nx = 1\n[b.c]\ny = 2\n[[d]]\nz = [1, 2]")
    assert dict(sources(values, "", None)) == {".a": "a handbook", ".b.c": None, ".d.z": None}


def test_estimates_are_listed() -> None:
    found = {
        f"{file.relative_to(PRESETS)} {place.removeprefix('.')}".rstrip()
        for file in FILES
        for place, source in sources(tomllib.loads(file.read_text("utf-8")), "", None)
        if "estimate" in (source or "")
    }
    print("\nestimates:", *sorted(found), sep="\n  ")
    assert found == ESTIMATED
