"""`twillight fit`: what it writes, says and refuses."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import numpy as np
import pytest

import render.fit
from render.cli import run
from render.fit import read_readings
from render.materials.fabrics import load_fabric
from render.materials.job import make_job
from render.preview import sew_design
from render.read import read_design
from render.swatch import Column, make_swatch


def loses(width_mm: float, stitches: str, give_mm: float, ratio: float) -> float:
    """A column's loss of width on a cloth made up for these tests, mm."""
    softer = 1.0 if stitches == "across" else 0.7
    return 0.95 * give_mm + softer * (0.02 + 0.012 * width_mm) * ratio


@pytest.fixture(autouse=True)
def quick_cloth(monkeypatch: pytest.MonkeyPatch) -> None:
    """The made-up cloth instead of sewing for seconds; sewing itself is tested elsewhere."""

    def response(
        _: object, columns: tuple[Column, ...], __: object, give: float, ratio: float, *, cell_mm: float
    ) -> np.ndarray:
        assert cell_mm == 1.0
        return np.array([c.width_mm - loses(c.width_mm, c.stitches, give, ratio) for c in columns])

    monkeypatch.setattr(render.fit, "swatch_response", response)


@pytest.fixture
def filled(tmp_path: Path) -> Path:
    """The list that comes with the swatch, filled in for hole give 0.34 mm and 1.2 times the tension."""
    assert run(["swatch", "-o", str(tmp_path / "swatch.dst")]) == 0
    path, chance = tmp_path / "swatch.csv", np.random.default_rng(7)
    rows = list(csv.DictReader(io.StringIO(path.read_text())))
    for row in rows:
        width = float(row["width_mm"]) - loses(float(row["width_mm"]), row["stitches"], 0.34, 1.2)
        for key in ("reading_1_mm", "reading_2_mm", "reading_3_mm"):
            row[key] = f"{width + chance.normal(0, 0.02):.2f}"
    with path.open("w", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    return path


def test_fit_writes_a_fabric_that_draws(
    filled: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], dst: Path
) -> None:
    out = tmp_path / "club-jersey.toml"
    capsys.readouterr()
    assert run(["fit", str(filled), "--fabric", "jersey", "-o", str(out)]) == 0
    said = capsys.readouterr()
    assert said.err == ""
    lines = said.out.splitlines()
    assert lines[0] == "126 readings of 42 columns on jersey: cut-away, hooped, hoop square-130"
    assert "readings on one column by 0.0" in lines[1]
    assert lines[2].startswith("hole give 0.35")  # more than 0.34: the tension is taken as usual
    assert "were it 20 % higher, hole give would be 0.0" in lines[3]
    assert lines[3].endswith("lower")
    assert "degrees of freedom" in lines[4]
    assert lines[-1] == f"{out}: draw with it by --fabric {out}"
    fabric, base = load_fabric(str(out)), load_fabric("jersey")
    assert fabric.name == "club-jersey"
    assert fabric.title == "Cotton jersey, as fitted"
    assert 0.34 < fabric.hole_give_mm < 0.36
    assert fabric.tension_ratio == 1
    assert fabric.structure == base.structure
    text = out.read_text()
    assert 'source = "fitted to 126 readings of 42 columns of the test swatch: cut-away, hooped' in text
    assert "# ± 0.0" in text
    assert run(["draw", str(dst), "-o", str(tmp_path / "p.png"), "--dpi", "40", "--fabric", str(out)]) == 0
    assert "on club-jersey" in capsys.readouterr().out


def test_what_was_fitted_is_what_is_sewn(filled: Path, tmp_path: Path, dst: Path) -> None:
    out = str(tmp_path / "ours.toml")
    assert run(["fit", str(filled), "--fabric", "jersey", "-o", out, "--free-tension"]) == 0
    design, fitted = read_design(dst), load_fabric(out)
    assert fitted.hole_give_mm == pytest.approx(0.34, abs=0.02)
    assert fitted.tension_ratio == pytest.approx(1.2, rel=0.25)
    usual, ours = (sew_design(design, make_job(fabric=name)) for name in ("jersey", out))
    assert usual.holding is not None
    assert ours.holding is not None
    assert ours.holding.tension_n == pytest.approx(usual.holding.tension_n * fitted.tension_ratio)
    assert ours.sewn.objects[0].pull_in_mm > usual.sewn.objects[0].pull_in_mm + 0.03
    # A job file beside it finds it by its name.
    (tmp_path / "job.toml").write_text('fabric = "ours.toml"\n')
    assert make_job(str(tmp_path / "job.toml")).fabric == fitted


def test_a_prior_is_told_and_kept_to(
    filled: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out, command = str(tmp_path / "f.toml"), ["fit", str(filled), "--fabric", "jersey", "--json", "--force"]
    found = []
    for prior in ([], ["--tension-prior", "0.01"], ["--tension-prior", "0.5"], ["--free-tension"]):
        capsys.readouterr()
        assert run([*command, "-o", out, *prior]) == 0
        found.append(json.loads(capsys.readouterr().out))
    assert [account["tension_fitted"] for account in found] == [False, True, True, True]
    assert found[1]["tension_ratio"] == pytest.approx(1, abs=0.01)
    assert 1 < found[2]["tension_ratio"] <= found[3]["tension_ratio"] + 0.01
    assert (
        found[1]["tension_sigma_percent"]
        < found[2]["tension_sigma_percent"]
        < found[3]["tension_sigma_percent"]
    )
    assert found[3]["condition"] > 1
    assert found[0]["output"] == out
    assert {"row", "width_mm", "read_less_fitted_mm"} == set(found[0]["furthest"])


def test_semicolons_and_decimal_commas(filled: Path, tmp_path: Path) -> None:
    german = tmp_path / "german.csv"
    german.write_text(filled.read_text().replace(",", ";").replace(".", ","), "utf-8-sig", newline="\r\n")
    tabs = tmp_path / "tabs.csv"
    tabs.write_text(german.read_text("utf-8-sig").replace(";", "\t"))
    read = [read_readings([str(path)], make_swatch().columns) for path in (filled, german, tabs)]
    assert read[0].mean_mm.tolist() == read[1].mean_mm.tolist() == read[2].mean_mm.tolist()
    for path in (filled, german):
        assert run(["fit", str(path), "--fabric", "jersey", "-o", str(path.with_suffix(".toml"))]) == 0
    assert german.with_suffix(".toml").read_text() == filled.with_suffix(".toml").read_text()


def test_two_swatches_make_it_surer(filled: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sigma = []
    for k, lists in enumerate(([filled], [filled, filled])):
        capsys.readouterr()
        command = ["fit", *map(str, lists), "--fabric", "jersey", "-o", str(tmp_path / f"{k}.toml"), "--json"]
        assert run(command) == 0
        account = json.loads(capsys.readouterr().out)
        assert account["readings"] == 126 * (k + 1)
        sigma.append(account["hole_give_sigma_mm"] / account["uncertainties_widened"])
    assert sigma[1] == pytest.approx(sigma[0] / np.sqrt(2), rel=0.1)


def test_a_folder_of_ones_own_is_named_from_the_new_file(filled: Path, tmp_path: Path) -> None:
    own = tmp_path / "cloths" / "club"
    own.mkdir(parents=True)
    (own / "fabric.toml").write_text((Path(load_fabric("pique").folder) / "fabric.toml").read_text())
    out = tmp_path / "cloths" / "fitted.toml"
    named = str(own / "fabric.toml")
    assert run(["fit", str(filled), "--fabric", named, "-o", str(out), "--needle-tension-n", "1.3"]) == 0
    assert 'based_on = "club"' in out.read_text()
    assert "needle thread at 1.3 N" in out.read_text()
    assert load_fabric(str(out)).structure == load_fabric("pique").structure


HEAD = "row,width_mm,reading_1_mm,reading_2_mm\n"


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "line 1: the headings must hold row, width_mm and reading_1_mm"),
        ("row,width_mm\n1,2\n", "line 1: the headings must hold"),
        ("row,width_mm,reading_1_mm,reading_one\n", "line 1: 'reading_one' is not known here"),
        ("row,width_mm,width_mm,reading_1_mm\n", "line 1: a heading stands there twice"),
        (HEAD, "r.csv holds no readings"),
        (HEAD + "1,2,,\n1,3,,\n", "r.csv holds no readings"),
        (HEAD + "1,2,1.7,1.8\n\n1,9,8.6,8.7\n", "line 4: the swatch has no column of 9 mm in row 1"),
        (HEAD + "1,2,1.7,1.8\n1,2,1.7,1.8\n", "line 3: row 1, 2 mm stands in line 2 already"),
        (HEAD + "1,2,1.7,abc\n", "line 2: 'abc' is no width in mm: write it as 3.72"),
        (HEAD + "1,2,-1.7,\n", "line 2: '-1.7' is no width in mm"),
        (HEAD + "1,2,nan,\n", "line 2: 'nan' is no width in mm"),
        (HEAD + ",2,1.7,\n", "line 2: '' is no width in mm"),
        (HEAD + "1,4,3,7,3,8\n", "line 2: 6 fields under 4 headings: part the fields by semicolons"),
        (HEAD + "1,4,0.37,\n", "line 2: a column of 4 mm does not sew out 0.37 mm wide: measure it again"),
        (HEAD + "1,4,37,\n", "line 2: a column of 4 mm does not sew out 37 mm wide"),
        (HEAD + "1,4,3.2,3.9\n", "line 2: readings of 3.2 and 3.9 mm on one column lie too far apart"),
        (HEAD + "1,4," + "3" * 140_000 + "\n", "line 2: field larger than field limit"),
        (HEAD + "1,4,3.7,3.8\n", "the readings are of 1 width and 3 are needed"),
    ],
)
def test_fit_refuses_readings(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], text: str, says: str
) -> None:
    path = tmp_path / "r.csv"
    path.write_text(text)
    assert run(["fit", str(path), "--fabric", "jersey", "-o", str(tmp_path / "f.toml")]) == 65
    error = capsys.readouterr().err
    assert says in error
    assert error.count("\n") == 1
    assert not (tmp_path / "f.toml").exists()


@pytest.mark.parametrize(
    ("arguments", "code", "says"),
    [
        (["-o", "f.csv"], 2, "end it in .toml"),
        (["-o", "there.toml"], 2, "is there already"),
        (["-o", "nowhere/f.toml"], 74, "there is no folder nowhere"),
        (["-o", "f.toml", "--tension-prior", "30"], 2, "--tension-prior 30 is no share"),
        (["-o", "f.toml", "--fabric", "there.toml"], 2, "is based on another fabric: fit that one"),
        (["-o", "f.toml", "--fabric", "jersy"], 65, "did you mean jersey?"),
        (["-o", "f.toml", "--stabiliser", "paper"], 65, "--stabiliser 'paper' is not known"),
        (["-o", "f.toml", "--hoop", "cap-frame"], 2, "does not fit the hoop cap-frame: name the one"),
        ([], 2, "--output"),
    ],
)
def test_fit_refuses_before_it_reckons(
    filled: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    arguments: list[str],
    code: int,
    says: str,
) -> None:
    monkeypatch.chdir(filled.parent)
    Path("there.toml").write_text('based_on = "jersey"\n[stiffness]\n')
    before = sorted(Path().iterdir())
    capsys.readouterr()
    assert run(["fit", filled.name, *arguments]) == code
    error = capsys.readouterr().err
    assert says in error
    assert error.count("\n") == 1
    assert sorted(Path().iterdir()) == before


def test_a_missing_list_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["fit", str(tmp_path / "no.csv"), "-o", str(tmp_path / "f.toml")]) == 65
    assert "cannot read the readings file" in capsys.readouterr().err


def test_the_digits_beside_a_column_are_what_the_list_asks_for(filled: Path) -> None:
    rows = list(csv.DictReader(io.StringIO(filled.read_text())))
    assert [(int(r["row"]), int(r["width_mm"])) for r in rows] == sorted(
        (c.row, c.width_mm) for c in make_swatch().columns
    )
