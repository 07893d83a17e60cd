"""`twillight list`: what there is to choose from."""

from __future__ import annotations

import json

import pytest

from render.cli import run

KNOWN = {
    "fabrics": {"pique", "jersey", "twill", "denim", "canvas", "polar-fleece", "terry", "cap-front", "felt"},
    "threads": {"rayon", "trilobal-polyester", "matte-polyester", "cotton", "metallic"},
    "lights": {"soft-studio", "raking"},
    "machines": {"unknown", "no-trimmer"},
    "problems": {"gap", "thin-cover", "repeated-hole"},
    "limits": {"gap_mm", "thin_spacing_mm", "hole_pitch_mm"},
    "scenes": {"polo", "t-shirt"},
    "formats": {"dst", "exp", "pes", "pec", "jef", "vp3", "xxx", "hus", "sew", "shv", "u01", "tbf"},
}


@pytest.mark.parametrize("what", KNOWN)
def test_lists_for_people_and_programs_agree(what: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["list", what]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert run(["list", what, "--json"]) == 0
    rows = json.loads(capsys.readouterr().out)
    assert [line.split(maxsplit=1) for line in lines] == [[row["name"], row["title"]] for row in rows]
    assert {row["name"] for row in rows} >= KNOWN[what]
    assert all(row["title"] for row in rows)


def test_what_cannot_be_listed(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["list", "shoes"]) == 2
    said = capsys.readouterr().err
    assert "fabrics" in said
    assert said.count("\n") == 1
