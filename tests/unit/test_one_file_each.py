"""A new fabric, thread, light, machine, garment, check, language or format is one file, found where it lies.

The package is taken as it is, with one file more in each place, and asked for what it shows.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from render.inspect.found import kinds, limits
from render.materials.groups import GROUPS, SIZES
from render.modules import modules_in

PACKAGE = Path(__file__).parents[2] / "render"

CHECK = '''
"""Objects of very few stitches. `speck`: the object's width, mm."""

from render.inspect.places import named, problem_of
from render.model import Limit, ProblemKind


def specks(piece):
    for part in piece.plan.objects:
        if part.last - part.first + 1 < piece.limits[part.colour_block]["speck_stitches"]:
            yield problem_of(
                piece, "speck", [part], severity="check", size_mm=part.width_mm,
                cause=f"{named(part)} is lost in the wash", remedy="leave it out",
            )


CHECKS = (specks,)
KINDS = {
    "speck": ProblemKind(
        remark="lost",
        called={"en": "little speck", "de": "Fleck"},
        said={"en": "Specks of {size} may be lost.", "de": "Flecken von {size} können verloren gehen."},
    )
}
LIMITS = {"speck_stitches": Limit(10.0, "objects of fewer stitches are lost", {"pile": 20.0})}
'''

PICTURE = '''
"""BMP."""

from render.write.pictures import PictureFormat, saved

FORMAT = PictureFormat("BMP", lambda image, dpi: saved(image, "BMP", dpi=(dpi, dpi)), transparent=False)
'''

FILM = '''
"""The bare frames, one after the other."""

from render.write.films import FilmFormat


class RawWriter:
    def __init__(self, part):
        self.stream = part.open("xb")

    def add(self, pixels):
        self.stream.write(pixels.tobytes())

    def finish(self):
        self.stream.write(b"end")

    def close(self):
        self.stream.close()


FORMAT = FilmFormat("RAW", lambda part, shape, _: RawWriter(part), usual_fps=12.0)
'''


def _as(path: str, *changed: tuple[str, str]) -> Callable[[], str]:
    """The text of a file that ships, with something changed in it."""

    def text() -> str:
        made = (PACKAGE.parent / path).read_text("utf-8")
        for old, new in changed:
            assert old in made
            made = made.replace(old, new)
        return made

    return text


ADDED: dict[str, Callable[[], str]] = {
    "render/inspect/specks.py": lambda: CHECK,
    "render/presets/threads/linen.toml": _as(
        "render/presets/threads/cotton.toml",
        ('title = "cotton"', 'title = "linen"\ncalled = { de = "Leinen" }'),
    ),
    "render/presets/lights/lamp.toml": _as("render/presets/lights/overcast.toml", ("Overcast", "Lamp")),
    "render/presets/machines/mine.toml": _as("render/presets/machines/multi-needle.toml", ('"Multi', '"My')),
    "render/presets/words/nl.toml": _as(
        "render/presets/words/en.toml", ('"English"', '"Nederlands"'), ('"rayon"', '"viscose"')
    ),
    "render/scene/garments/scarf.py": _as("render/scene/garments/close_up.py", ("Close-up", "Scarf")),
    "render/write/pictures/bmp.py": lambda: PICTURE,
    "render/write/films/raw.py": lambda: FILM,
    "textures/calico/fabric.toml": _as("textures/canvas/fabric.toml", ('title = "', 'title = "Calico, ')),
}

ASKED = """
import json, sys
from pathlib import Path
import numpy as np
from inspect_pieces import inspected
from plan_pieces import path_running, straight
from render.choices import CHOICES
from render.inspect import inspect
from render.materials.fabrics import load_fabric
from render.materials.job import make_job
from render.materials.lights import load_light
from render.materials.machines import load_machine
from render.materials.threads import make_thread
from render.model import Picture
from render.proof.remarks import customer_remarks
from render.proof.wording import language_of, words_in
from render.scene.garments import garment, garment_titles
from render.write.films import Shape
from render.write.picture import write_picture
from render.write.video import film_file

pixels = np.full((4, 6, 3), 90, np.uint8)
write_picture(Picture(pixels, 300.0), "a.bmp")
with film_file("a.raw", Shape(6, 4, 12.0)) as film:
    film.add(pixels)
job = make_job(fabric="calico")
found = inspect(inspected(path_running(straight(12), 2.0), job=job))
remarks = customer_remarks(found, job)
print(json.dumps({
    "listed": {what: dict(show()) for what, show in CHOICES.items() if what != "formats"},
    "scenes": garment_titles(),
    "named": [load_fabric("calico").name, load_light("lamp").name, load_machine("mine").name,
              make_thread((0, 0, 0), kind="linen").kind, garment("scarf", (80.0, 80.0)).fabric],
    "found": [one.kind for one in found.problems],
    "told": [words_in("de").say("remark", one.words, size="3 mm") for one in remarks],
    "called": {code: [words_in(code).say("problem", "speck"), words_in(code).say("thread_kind", "linen")]
               for code in ("en", "de", "fr", "nl")},
    "language": language_of("Nederlands"),
    "own words": words_in("nl").say("thread_kind", "rayon"),
}))
"""


@pytest.fixture(scope="module")
def answer(tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, Any], Path]:
    """What the package with those files says of itself, and the folder that it wrote to."""
    home = tmp_path_factory.mktemp("checkout")
    for part in ("render", "textures"):
        (home / part).symlink_to(PACKAGE.parent / part, target_is_directory=True)
    for path, text in ADDED.items():
        _make_room(home, (home / path).parent)
        (home / path).write_text(text(), "utf-8")
    tests = PACKAGE.parent / "tests"
    made = subprocess.run(
        [sys.executable, "-c", ASKED],
        cwd=home,
        # Compiled modules would lie in the checkout's own folders, to which there are links.
        env=os.environ
        | {"PYTHONPATH": os.pathsep.join([str(home), str(tests)]), "PYTHONDONTWRITEBYTECODE": "1"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert made.returncode == 0, made.stderr
    return json.loads(made.stdout), home


def _make_room(home: Path, folder: Path) -> None:
    """Make each folder on the way one of its own, with links to what the checkout has in it."""
    for inside in [*reversed(folder.relative_to(home).parents), folder.relative_to(home)][1:]:
        own, theirs = home / inside, PACKAGE.parent / inside
        if own.is_symlink() or not own.exists():
            own.unlink(missing_ok=True)
            own.mkdir()
            for one in theirs.iterdir() if theirs.is_dir() else ():
                (own / one.name).symlink_to(one, target_is_directory=one.is_dir())


pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="links need rights there")


@pytest.mark.parametrize(
    ("what", "name", "title"),
    [
        ("fabrics", "calico", "Calico, "),
        ("threads", "linen", "linen"),
        ("lights", "lamp", "Lamp sky"),
        ("machines", "mine", "My"),
        ("problems", "speck", "little speck"),
        ("limits", "speck_stitches", "10; pile 20: objects of fewer stitches are lost"),
    ],
)
def test_it_is_listed(answer: tuple[dict[str, Any], Path], what: str, name: str, title: str) -> None:
    assert answer[0]["listed"][what][name].startswith(title)


def test_materials_and_garments_are_there_to_use(answer: tuple[dict[str, Any], Path]) -> None:
    assert answer[0]["scenes"]["scarf"].startswith("Scarf")
    assert answer[0]["named"] == ["calico", "lamp", "mine", "linen", "pique"]


def test_a_check_finds_and_its_kind_is_told_in_every_language(answer: tuple[dict[str, Any], Path]) -> None:
    """By its own words, and in English where it has none; what is no customer's affair was not asked for."""
    said = answer[0]
    assert "speck" in said["found"]
    assert "Flecken von 3 mm können verloren gehen." in said["told"]
    assert said["called"] == {
        "en": ["little speck", "linen"],
        "de": ["Fleck", "Leinen"],
        "fr": ["little speck", "linen"],
        "nl": ["little speck", "linen"],
    }


def test_a_language_has_its_own_words(answer: tuple[dict[str, Any], Path]) -> None:
    assert (answer[0]["language"], answer[0]["own words"]) == ("nl", "viscose")


def test_pictures_and_films_are_written_by_their_endings(answer: tuple[dict[str, Any], Path]) -> None:
    home = answer[1]
    assert (home / "a.bmp").read_bytes().startswith(b"BM")
    assert (home / "a.raw").read_bytes() == bytes([90]) * 72 + b"end"


def test_what_is_declared_is_declared_once_and_with_a_source() -> None:
    for what in ("KINDS", "LIMITS"):
        names = Counter(name for module in modules_in("render.inspect") for name in getattr(module, what, ()))
        assert max(names.values()) == 1, names.most_common(1)
    for limit in limits().values():
        assert set(limit.but) <= {*GROUPS, *SIZES}
        assert len(limit.source) >= 8
    assert not {name for name, kind in kinds().items() if kind.said and not kind.remark}
