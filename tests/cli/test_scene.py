"""`twillight scene` as a user meets it."""

from __future__ import annotations

import json
import threading
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from render.asked import read_file
from render.cli import run
from render.cli.scene_files import Drawer, draw_all, planned
from render.errors import UsageError
from render.materials.job import make_job
from render.model import Picture
from render.scene import draw_scenes, frame_of, scene_for
from render.scene.sets import ColourSet

EXAMPLES = Path(__file__).parents[2] / "examples"
BADGE = str(EXAMPLES / "cap-badge.dst")

SETS = """
[[set]]
name = "Night Navy"
garment = "#14284b"

[[set]]
name = "bright red"
garment = "#b3322c"
threads = { 1 = "white" }
"""


@pytest.mark.slow
def test_one_scene_is_one_picture(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "polo.png"
    code = run(
        ["scene", BADGE, "-o", str(out), "--on", "polo", "--width-px", "220", "--shape", "square", "--json"]
    )
    account = json.loads(capsys.readouterr().out)
    assert code == 0
    assert account["drawn"] == 1
    with Image.open(out) as image:
        assert image.size == (220, 220)
        assert np.asarray(image).std() > 8


@pytest.mark.slow
def test_the_background_is_of_the_colour_asked_for() -> None:
    """What a cap stands on is all around it: at the picture's edges green under the light outshines red."""
    job = make_job(finish="cleaned")
    scene = scene_for(read_file(BADGE, None), job, "cap-front")
    (picture,) = draw_scenes(scene, frame_of("square", 64, backdrop_srgb=(0.1, 0.6, 0.2)))
    edge = picture.pixels[:, [0, -1]].astype(int)
    assert (edge[..., 1] > edge[..., 0] + 40).all()
    (filled,) = draw_scenes(
        scene_for(read_file(BADGE, None), job, "close-up"),
        frame_of("square", 64, backdrop_srgb=(0.1, 0.6, 0.2)),
    )
    assert any("hardly any of the background" in note for note in filled.notes)


def test_sets_make_a_sheet_and_pictures_and_go_on_where_they_stopped(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "sets.toml").write_text(SETS)
    out = tmp_path / "club.jpg"
    asked = ["scene", BADGE, "-o", str(out), "--on", "close-up", "--colour-sets", str(tmp_path / "sets.toml")]
    asked += ["--width-px", "160"]
    assert run(asked) == 0
    names = sorted(path.name for path in tmp_path.glob("*.jpg"))
    assert names == ["club-close-up-bright-red.jpg", "club-close-up-night-navy.jpg", "club.jpg"]
    navy, red = (np.asarray(Image.open(tmp_path / name)).mean((0, 1)) for name in (names[1], names[0]))
    assert navy[2] > navy[0]
    assert red[0] > red[2]
    kept = (tmp_path / names[1]).read_bytes()
    (tmp_path / names[0]).unlink()
    out.unlink()
    capsys.readouterr()
    assert run(asked) == 0
    assert "1 drawn, 1 there already" in capsys.readouterr().out
    assert (tmp_path / names[1]).read_bytes() == kept


def test_garments_are_drawn_side_by_side_and_what_was_drawn_stays(tmp_path: Path) -> None:
    """Two drawers that wait for each other can only both come to an end side by side. The third fails: what
    the others drew is there, and the next run draws the third alone."""
    drawn = []
    together = threading.Barrier(2, timeout=120)

    def drawer(name: str, waits: bool = False, broken: bool = False) -> Drawer:
        def draw(sets: list[ColourSet], progress: Callable[[float], None]) -> list[Picture]:
            if waits:
                together.wait()
            if broken:
                raise UsageError("the third cannot be drawn")
            drawn.append(name)
            return [Picture(np.full((8, 8, 3), 99, np.uint8), 100.0) for _ in sets or [None]]

        return draw

    names = ["one", "two", "three"]
    plan = planned(str(tmp_path / "all.png"), names, (), force=False)
    drawers = {"one": drawer("one", waits=True), "two": drawer("two", waits=True)}
    with pytest.raises(UsageError, match="the third"):
        draw_all({**drawers, "three": drawer("three", broken=True)}, (), plan, force=False)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["all-one.png", "all-two.png"]
    drawn.clear()
    account = draw_all({name: drawer(name) for name in names}, (), plan, force=False)
    assert (drawn, account["drawn"]) == (["three"], 1)


def test_told_to_end_it_stops_what_is_being_drawn(tmp_path: Path) -> None:
    """The first is ended as Ctrl-C would; the second, which would never end by itself, hears of it."""
    drawing = threading.Event()

    def ended(sets: list[ColourSet], progress: Callable[[float], None]) -> list[Picture]:
        assert drawing.wait(120)
        raise KeyboardInterrupt

    def endless(sets: list[ColourSet], progress: Callable[[float], None]) -> list[Picture]:
        drawing.set()
        while True:
            progress(0.5)

    plan = planned(str(tmp_path / "all.png"), ["one", "two"], (), force=False)
    with pytest.raises(KeyboardInterrupt):
        draw_all({"one": ended, "two": endless}, (), plan, force=False)
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--on", "rocket"], "there is no scene 'rocket'"),
        ([], "name what the design is sewn on"),
        (["--on", "polo", "--shape", "round"], "there is no shape 'round'"),
        (["--on", "polo", "--transparent"], "nothing to cut out"),
        (["--on", "polo", "--width-px", "9"], "64 to 8000 pixels"),
    ],
)
def test_what_makes_no_sense_is_said_in_one_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], options: list[str], words: str
) -> None:
    assert run(["scene", BADGE, "-o", str(tmp_path / "x.png"), *options]) == 2
    said = capsys.readouterr().err
    assert words in said
    assert said.count("\n") == 1
