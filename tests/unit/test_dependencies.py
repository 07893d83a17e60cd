"""What the package stands on: each justified, bounded, licensed and listed."""

from __future__ import annotations

import json
import re
import subprocess
import sys
import tomllib
from importlib.metadata import distribution
from pathlib import Path
from typing import Any

import pytest


@pytest.fixture(scope="module")
def declared(repository: Path) -> dict[str, str]:
    """Range of versions by package, of what users install."""
    project = tomllib.loads((repository / "pyproject.toml").read_text("utf-8"))["project"]
    lines = [*project["dependencies"], *project["optional-dependencies"]["video"]]
    return dict(re.fullmatch(r"([\w.-]+)(.*)", line).groups() for line in lines)  # type: ignore[union-attr]


def test_each_has_a_lower_and_an_upper_bound(declared: dict[str, str]) -> None:
    assert all(re.fullmatch(r">=[\d.]+,<\d+", versions) for versions in declared.values())


def test_each_is_justified_with_its_range_and_licence(declared: dict[str, str], repository: Path) -> None:
    text = (repository / "docs" / "dependencies.md").read_text("utf-8")
    rows = re.findall(r"^\| (\S+) \| (>=\S+) \| (.+) \| (.+) \|$", text, re.MULTILINE)
    assert {name: versions for name, versions, _, _ in rows} == declared
    assert all(len(why.split()) > 3 and licence for _, _, why, licence in rows)


def test_the_lowest_versions_are_those_that_may_be_tried(declared: dict[str, str], repository: Path) -> None:
    lines = (repository / "tests" / "lowest.txt").read_text("utf-8").splitlines()
    lowest = dict(line.split("==") for line in lines if not line.startswith("#"))
    assert lowest == {
        name: versions[2:].split(",")[0] for name, versions in declared.items() if name != "imageio-ffmpeg"
    }


@pytest.fixture(scope="module")
def bill(repository: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    path = tmp_path_factory.mktemp("bill") / "sbom.json"
    subprocess.run([sys.executable, str(repository / ".ci" / "sbom.py"), str(path)], check=True)
    loaded: dict[str, Any] = json.loads(path.read_text("utf-8"))
    return loaded


def test_the_bill_lists_what_is_installed(bill: dict[str, Any]) -> None:
    assert (bill["bomFormat"], bill["specVersion"]) == ("CycloneDX", "1.6")
    parts = {part["name"]: part for part in bill["components"]}
    asked = [line for line in distribution("twillight").requires or [] if "extra" not in line]
    assert {re.split("[<>=!~ ]", line)[0].lower() for line in asked} <= set(parts)
    assert "llvmlite" in parts  # what numba needs
    assert not {"pytest", "ruff", "mypy"} & set(parts)
    for name, part in parts.items():
        assert part["version"] == distribution(name).version
        assert part["purl"] == part["bom-ref"] == f"pkg:pypi/{name}@{part['version']}"


def test_every_part_of_the_bill_has_a_licence_and_a_place_in_the_tree(bill: dict[str, Any]) -> None:
    assert [part["name"] for part in bill["components"] if not part["licenses"]] == []
    references = {part["bom-ref"] for part in [bill["metadata"]["component"], *bill["components"]]}
    assert {entry["ref"] for entry in bill["dependencies"]} == references
    asked = {needed for entry in bill["dependencies"] for needed in entry["dependsOn"]}
    assert asked == references - {bill["metadata"]["component"]["bom-ref"]}
