"""The list of all that is installed with Twillight, as CycloneDX 1.6 JSON: python .ci/sbom.py OUT.json

What the package needs to run, and what that needs in turn; not what tests need. The same environment gives
the same bytes: no clock, no random number.
"""

from __future__ import annotations

import json
import re
import sys
from importlib.metadata import Distribution, PackageNotFoundError, distribution
from pathlib import Path
from typing import Any

ROOT = "twillight"
EXTRAS = ("video",)  # what users may add


def plain(name: str) -> str:
    """A package's name as registries compare it (PEP 503)."""
    return re.sub(r"[-_.]+", "-", name).lower()


def needs(package: Distribution, extras: tuple[str, ...] = ()) -> list[str]:
    """Names of the installed packages that one asks for."""
    found = []
    for line in package.requires or []:
        requirement, _, marker = line.partition(";")
        extra = re.search(r"extra\s*==\s*['\"]([^'\"]+)", marker)
        if extra and extra[1] not in extras:
            continue
        name = plain(re.split(r"[^A-Za-z0-9._-]", requirement.strip(), maxsplit=1)[0])
        try:
            distribution(name)
        except PackageNotFoundError:  # for another system or Python
            continue
        found.append(name)
    return sorted(set(found))


def licences(package: Distribution) -> list[dict[str, Any]]:
    """What a package says of its licence, as CycloneDX has it."""
    about = package.metadata
    if expression := about.get("License-Expression"):
        return [{"expression": expression}]
    named = [c.split(" :: ")[-1] for c in about.get_all("Classifier", []) if c.startswith("License ::")]
    # Some packages give the whole text of a licence here.
    named = named or [(about.get("License") or "").strip().split("\n")[0][:100]]
    return [{"license": {"name": name}} for name in named if name]


def component(name: str) -> dict[str, Any]:
    package = distribution(name)
    reference = f"pkg:pypi/{plain(name)}@{package.version}"
    return {
        "type": "application" if name == ROOT else "library",
        "bom-ref": reference,
        "name": plain(name),
        "version": package.version,
        "licenses": licences(package),
        "purl": reference,
    }


def bill() -> dict[str, Any]:
    """The whole bill of materials of this environment."""
    asks: dict[str, list[str]] = {}
    open_names = [ROOT]
    while open_names:
        name = open_names.pop()
        if name not in asks:
            asks[name] = needs(distribution(name), EXTRAS if name == ROOT else ())
            open_names += asks[name]
    parts = {name: component(name) for name in sorted(asks)}
    return {
        "bomFormat": "CycloneDX",
        "specVersion": "1.6",
        "version": 1,
        "metadata": {"component": parts[ROOT]},
        "components": [part for name, part in parts.items() if name != ROOT],
        "dependencies": [
            {
                "ref": parts[name]["bom-ref"],
                "dependsOn": [parts[needed]["bom-ref"] for needed in needed_names],
            }
            for name, needed_names in sorted(asks.items())
        ],
    }


if __name__ == "__main__":
    Path(sys.argv[1]).write_text(json.dumps(bill(), indent=1) + "\n", "utf-8")
