"""What README and DEVELOPERS.md tell people to type works as typed."""

from __future__ import annotations

import itertools
import re
import shlex
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import typer
from PIL import Image

from render.cli import app, run
from render.scene.garments import garment_names
from render.scene.sets import load_colour_sets

ROOT = Path(__file__).parents[2]


def blocks(document: str, language: str) -> list[str]:
    """The fenced blocks of a language in a document."""
    text = (ROOT / document).read_text("utf-8")
    return re.findall(rf"^```{language}\n(.*?)^```", text, re.MULTILINE | re.DOTALL)


COMMANDS = [
    line
    for block in blocks("README.md", "sh")
    for line in block.splitlines()
    if line.startswith(("twillight ", "python "))
]


def test_readme_shows_two_set_up_commands_and_at_least_five_more() -> None:
    first, second, *more = blocks("README.md", "sh")
    assert "examples/crest.dst" in first
    assert first.count("\n") == second.count("\n") == 1
    assert second.strip().endswith("python -m pytest")
    assert len(COMMANDS) >= len(more) >= 5


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One folder for all of a document's commands: some use what earlier ones made.

    Of the designs it holds those that the document names, so that looking through all takes no long time.
    """
    folder = tmp_path_factory.mktemp("desk")
    (folder / "examples").mkdir()
    text = (ROOT / "README.md").read_text("utf-8")
    for path in (ROOT / "examples").iterdir():
        if path.suffix not in (".dst", ".exp", ".jef", ".pes", ".vp3") or path.name in text:
            (folder / "examples" / path.name).symlink_to(path)
    return folder


# Drawn and looked at less finely, where nothing is typed of that: what a command does is the same.
SMALLER = {"draw": ("--dpi", "100"), "scene": ("--width-px", "500")}


@pytest.mark.slow
@pytest.mark.parametrize("command", COMMANDS, ids=range(1, len(COMMANDS) + 1))
def test_readme_command(
    command: str, desk: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(desk)
    program, *words = shlex.split(command)
    if program == "python":
        subprocess.run([sys.executable, *words], check=True)
        return
    monkeypatch.setattr("render.inspection.PX_PER_MM", 10.0)
    option, size = SMALLER.get(words[0], ("", ""))
    smaller = [option, size] if option and option not in words else []
    assert run([*words, *smaller]) == 0, capsys.readouterr().err
    for option, value in itertools.pairwise(words):
        if option == "-o" and Path(value).suffix in (".png", ".jpg", ".tif", ".webp"):
            assert Image.open(value).width > 100
        elif option == "-o":
            assert Path(value).stat().st_size > 100


@pytest.mark.slow
def test_readme_python(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "examples").symlink_to(ROOT / "examples")
    (script,) = blocks("README.md", "python")
    exec(compile(script, "README.md", "exec"), {})
    assert Image.open("crest-plain.png").width > 500


@pytest.mark.slow
def test_worked_example(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Block after block in one namespace, as a notebook runs; the page's own assertions hold."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "examples").symlink_to(ROOT / "examples")
    names: dict[str, object] = {}
    steps = blocks("docs/worked-example.md", "python")
    assert len(steps) >= 6
    for number, step in enumerate(steps, 1):
        exec(compile(step, f"worked-example.md, block {number}", "exec"), names)
    assert Image.open("look.png").width > 250


def commands_in(document: Path) -> list[str]:
    """The commands that a document shows, indented or in its text, with its shell variables filled in."""
    text = re.sub(r" \\\n +", " ", document.read_text("utf-8"))
    values = dict(re.findall(r'\b([A-Z])="([^"]*)"', text))
    shown = re.findall(r"^    (twillight .*)$", text, re.MULTILINE)
    shown += [" ".join(words.split()) for words in re.findall(r"`(twillight [^`]* -[^`]*)`", text)]
    return [re.sub(r"\$([A-Z])", lambda found: values[found[1]], line) for line in shown if "…" not in line]


DOCUMENTED = [
    (path.name, command) for path in sorted((ROOT / "docs").glob("*.md")) for command in commands_in(path)
]


@pytest.mark.parametrize(("document", "command"), DOCUMENTED)
def test_commands_in_the_documents_are_understood(document: str, command: str) -> None:
    """Of what they read, the examples are there; names of garments and cloths are known."""
    name, *words = shlex.split(command)[1:]
    made = typer.main.get_command(app).commands[name].make_context(name, words)  # type: ignore[attr-defined]
    assert made.params, document
    for word in words:
        assert not word.startswith("examples/") or (ROOT / word).is_file(), command
    assert set(made.params.get("on") or ()) <= set(garment_names()), command


def test_the_documents_show_commands() -> None:
    assert {"scenes.md", "optics.md"} <= {document for document, _ in DOCUMENTED}
    assert len(DOCUMENTED) >= 15


def test_colour_sets_as_the_document_shows_them(tmp_path: Path) -> None:
    path = tmp_path / "club.sets.toml"
    path.write_text(blocks("docs/scenes.md", "toml")[0], "utf-8")
    assert [one.name for one in load_colour_sets(str(path))] == ["bottle green", "sand"]


def test_readme_pictures_and_links_exist() -> None:
    for document in (ROOT / "README.md", ROOT / "DEVELOPERS.md", *(ROOT / "docs").glob("*.md")):
        for target in re.findall(r"\]\(([^)#]+)", document.read_text("utf-8")):
            there = target.startswith("http") or (document.parent / target).exists()
            assert there, f"{document.name}: {target}"


def test_own_fabric_threads_and_light_as_the_developers_notes_show(
    dst: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    fabric, threads, light = blocks("DEVELOPERS.md", "toml")
    folder = tmp_path / "marl"
    folder.mkdir()
    (folder / "fabric.toml").write_text(fabric, "utf-8")
    shades = np.random.default_rng(1).integers(120, 160, (240, 360, 1), np.uint8).repeat(3, axis=2)
    Image.fromarray(shades).save(folder / "marl.jpg")
    (tmp_path / "shop.toml").write_text(threads, "utf-8")
    (tmp_path / "table.toml").write_text(light, "utf-8")
    own = ["--fabric", folder, "--threads", tmp_path / "shop.toml", "--light", tmp_path / "table.toml"]
    code = run(["draw", str(dst), "-o", str(tmp_path / "own.png"), "--dpi", "100", *map(str, own)])
    said = capsys.readouterr()
    assert code == 0, said.err
    assert "(needle 4: fire, shelf 3)" in said.out
