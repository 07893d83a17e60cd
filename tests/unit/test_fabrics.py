"""Fabric files: what ships, what it says, and what a user's own may get wrong."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from render.draw import cloth
from render.errors import InputError
from render.materials import fabrics
from render.materials.fabrics import fabric_names, load_fabric, textures_folder
from render.model import Lamp, Light, Window

NAMES = (
    "canvas",
    "cap-front",
    "denim",
    "felt",
    "heather-jersey",
    "jersey",
    "nylon-shell",
    "performance-polyester",
    "pique",
    "polar-fleece",
    "ribbed-beanie",
    "satin-weave",
    "stabiliser",
    "stretch-knit",
    "sweatshirt-fleece",
    "terry",
    "twill",
)
SOURCES = r"estimate|from memory|calibrated|common practice, no source|https?://|ISO \d|ASTM|doi:"


def test_these_fabrics_ship() -> None:
    assert fabric_names() == NAMES


def tables(facts: dict[str, Any], name: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    yield name, facts
    for key, value in facts.items():
        if isinstance(value, dict):
            yield from tables(value, f"{name}.{key}".strip("."))


def unsourced(facts: dict[str, Any]) -> list[str]:
    """Tables that hold a number but say nothing of where it is from."""
    return [
        name
        for name, table in tables(facts)
        if any(
            isinstance(v, list | int | float) and not isinstance(v, bool) and v != table.get("raised")
            for v in table.values()
        )
        and not re.search(SOURCES, str(table.get("source", "")))
    ]


@pytest.mark.parametrize("path", sorted(textures_folder().rglob("*.toml")), ids=lambda p: p.parent.name)
def test_every_number_has_a_source(path: Path) -> None:
    assert unsourced(tomllib.loads(path.read_text("utf-8"))) == []


def test_the_check_finds_a_number_without_source() -> None:
    assert unsourced({"a": {"x": 1}, "b": {"x": [1, 2], "source": "estimate"}, "c": {"y": "z"}}) == ["a"]


@pytest.mark.parametrize("name", NAMES)
def test_shipped_fabric_is_plausible(name: str) -> None:
    fabric = load_fabric(name)
    assert fabric.title
    assert 0.05 < fabric.thickness_mm < 5
    assert fabric.stabiliser in ("tear-away", "cut-away")
    assert 100 < fabric.e_weft_n_per_m <= fabric.e_warp_n_per_m <= 30000
    assert 0 < fabric.poisson <= 0.5
    assert Path(fabric.folder).is_dir()


# Needle count, wale and course counts of a fabric are its spacings turned over.
def test_twill_has_the_yarn_counts_of_a_heavy_drill() -> None:
    """About 50 ends and 24 picks a cm: 130 x 60 an inch is a usual 3/1 drill (from memory)."""
    structure = load_fabric("twill").structure
    assert 10 / structure["warp"]["spacing_mm"] == pytest.approx(128 / 2.54, rel=0.05)
    assert 10 / structure["weft"]["spacing_mm"] == pytest.approx(60 / 2.54, rel=0.05)


def test_denim_is_a_right_hand_three_one_twill() -> None:
    raised = load_fabric("denim").structure["raised"]
    assert [row.count("1") for row in raised] == [3, 3, 3, 3]
    # Going up a weft the weft's own spot moves right: the line rises to the right.
    spots = [row.index("0") for row in raised]
    assert [(above - below) % 4 for below, above in zip(spots[1:], spots[:-1], strict=True)] == [1, 1, 1]


def test_unknown_name_lists_the_fabrics() -> None:
    with pytest.raises(InputError, match=r"no fabric 'jersy' \(did you mean jersey\?\).*canvas.*twill"):
        load_fabric("jersy")


@pytest.fixture
def own(tmp_path: Path) -> Path:
    """A user's copy of the shipped denim."""
    folder = tmp_path / "my-cloth"
    shutil.copytree(textures_folder() / "denim", folder)
    return folder


@pytest.mark.parametrize("named", [".", "fabric.toml"])
def test_a_folder_of_ones_own(own: Path, named: str) -> None:
    fabric = load_fabric(str(own / named))
    assert fabric.name == "my-cloth"
    assert fabric.structure == load_fabric("denim").structure


def test_titles_in_other_languages_go_with_the_cloth_and_with_what_is_based_on_it(
    own: Path, tmp_path: Path
) -> None:
    path = own / "fabric.toml"
    path.write_text('called = { de = "Jeansstoff" }\n' + path.read_text("utf-8"), "utf-8")
    softer = tmp_path / "softer.toml"
    softer.write_text('based_on = "my-cloth"\n[stiffness]\nhole_give_mm = 0.2\n', "utf-8")
    for name in (own, softer):
        assert load_fabric(str(name)).called == {"de": "Jeansstoff"}
    softer.write_text('title = "soft denim"\n' + softer.read_text("utf-8"), "utf-8")
    assert load_fabric(str(softer)).called == {}


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("[stiffness]", "[stiff]", "'stiff' is not known here; did you mean 'stiffness'"),
        ("[stiffness]", "[cloth.stiffness]", r"\[stiffness\] is missing"),
        ('colour = "#', 'holes_stay = "yes"\ncolour = "#', "holes_stay must be true or false, not 'yes'"),
        ("poisson = ", "poison = ", "'poison' is not known here; did you mean 'poisson'"),
        ("colour = ", "# ", "has no colour: give it one"),
        ("thickness_mm = 0.8", "thickness_mm = true", "thickness_mm must be a number from 0 to 50, not True"),
        ("thickness_mm = 0.8", "thickness_mm = nan", "thickness_mm must be a number"),
        (
            'kind = "weave"',
            'kind = "lace"',
            "kind must be one of weave, knit, terry, pile, photo, not 'lace'",
        ),
        ('    "0111",', '    "01111",', "rows of 0 and 1 of one length"),
        ('    "0111",', '    "0121",', "rows of 0 and 1 of one length"),
        ('colour = "#', 'colour = "mauvish #', "is no colour"),
        ('stabiliser = "tear-away"', 'stabiliser = "glue"', "stabiliser must be one of"),
        ("spacing_mm = 0.35", "spacing_mm = -0.35", r"warp\]: spacing_mm must be a number"),
        ("twist_pitch_mm = 2.1", "twist_pitch_mm = 0", "twist_pitch_mm must not be 0"),
        ("title = ", "called = { de = 3 }\ntitle = ", r"\[called\]: de must be text in quotes"),
        ('finish = "cotton"', 'finish = "chrome"', "finish must be one of"),
        ("title = ", "title ", "is not valid TOML"),
    ],
)
def test_what_is_wrong_in_a_file_is_said(own: Path, old: str, new: str, message: str) -> None:
    path = own / "fabric.toml"
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), "utf-8")
    with pytest.raises(InputError, match=message):
        load_fabric(str(own))


def test_a_folder_without_a_file(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot read the fabric file"):
        load_fabric(str(tmp_path))


def test_textures_are_found_in_a_checkout_and_in_an_installed_copy(repository: Path, tmp_path: Path) -> None:
    assert textures_folder() == repository / "textures"
    ignore = shutil.ignore_patterns("__pycache__")
    shutil.copytree(repository / "render", tmp_path / "site" / "render", ignore=ignore)
    shutil.copytree(repository / "textures", tmp_path / "site" / "render" / "textures")
    script = "from render.materials.fabrics import *; print(textures_folder(), len(fabric_names()), sep='|')"
    out = subprocess.run(
        [sys.executable, "-c", script],
        capture_output=True,
        text=True,
        check=True,
        cwd=tmp_path / "site",
        env={"PYTHONPATH": str(tmp_path / "site"), "PATH": ""},
    ).stdout.strip()
    assert out == f"{tmp_path / 'site' / 'render' / 'textures'}|{len(NAMES)}"


# --- a photo of cloth

LIGHT = Light("test", "Test", (Lamp(225, 47, 25, 2.0, (1, 1, 1)),), (0.2, 0.2, 0.2))


@pytest.fixture
def photo(own: Path) -> Path:
    """A made-up photo: 0.5 mm checks at 20 px/mm, lit from one side."""
    rng = np.random.default_rng(2)
    y, x = np.mgrid[0:400, 0:500]
    cloth_grey = 120 + 40 * np.sign(np.sin(2 * np.pi * x / 20) * np.sin(2 * np.pi * y / 20))
    uneven = (0.5 + x / 500)[..., None] * cloth_grey[..., None] * np.array([1.0, 0.8, 0.7])
    pixels = np.clip(uneven + rng.normal(0, 6, (400, 500, 1)), 0, 255).astype(np.uint8)
    Image.fromarray(pixels).save(own / "cloth.png")
    path = own / "fabric.toml"
    text = path.read_text("utf-8")
    text = text[: text.index("[structure]")]
    path.write_text(
        text + '[structure]\nkind = "photo"\n[structure.photo]\nfile = "cloth.png"\n'
        'px_per_mm = 20.0\nsource = "estimate"\n',
        "utf-8",
    )
    return own


def laid(folder: Path, colour_srgb: tuple[float, float, float] | None, px_per_mm: float = 10.0) -> Any:
    lit = cloth.light_cloth(
        load_fabric(str(folder)),
        LIGHT,
        colour_srgb=colour_srgb,
        turn_deg=0,
        mirrored=False,
        px_per_mm=px_per_mm,
        seed=1,
    )
    return cloth.lay_cloth(
        lit, window=Window((0, 0), px_per_mm, 500, 500), first_row=0, rows=500, first_col=0, cols=500
    )


def test_photo_becomes_cloth_of_any_colour_without_its_uneven_light(photo: Path) -> None:
    grey = laid(photo, (0.5, 0.5, 0.5)).radiance_linear
    assert grey.mean(axis=(0, 1)) == pytest.approx([0.214] * 3, rel=0.03)
    own_colour = laid(photo, None).radiance_linear.mean(axis=(0, 1))
    assert own_colour[0] > own_colour[1] > own_colour[2]
    # The photo is three times as bright on its right as on its left.
    columns = grey.mean(axis=(0, 2)).reshape(10, 50).mean(axis=1)
    assert columns.max() / columns.min() < 1.25


@pytest.mark.parametrize("ending", ["png", "tif"])
def test_photo_in_grey_of_sixteen_bits_is_that_of_eight(photo: Path, ending: str) -> None:
    """A level of 16 bits is that of 8 times 257; Pillow's own conversion makes nearly all of them white."""
    path = photo / "fabric.toml"
    grey = Image.open(photo / "cloth.png").convert("L")
    grey.save(photo / "cloth.png")
    plain = laid(photo, None).radiance_linear
    Image.fromarray(np.asarray(grey, np.uint16) * 257).save(photo / f"deep.{ending}")
    path.write_text(path.read_text("utf-8").replace("cloth.png", f"deep.{ending}"), "utf-8")
    np.testing.assert_allclose(laid(photo, None).radiance_linear, plain, atol=1e-4)


def test_photo_lies_as_its_camera_was_held(photo: Path) -> None:
    """6: turned a quarter (EXIF 2.32), so the made-up photo's 500 pixels run down."""
    from render.draw.cloth.photo import photo_texels

    exif = Image.Exif()
    exif[0x0112] = 6
    Image.open(photo / "cloth.png").save(photo / "cloth.png", exif=exif)
    _, (wide_mm, high_mm) = photo_texels(load_fabric(str(photo)), None, 10.0)
    assert high_mm == pytest.approx(1.25 * wide_mm, rel=0.01)


def test_photo_without_a_seam(photo: Path) -> None:
    from render.draw.cloth.photo import photo_texels

    texels, _ = photo_texels(load_fabric(str(photo)), None, 10.0)
    for axis in (0, 1):
        steps = np.abs(texels[..., 1] - np.roll(texels[..., 1], 1, axis)).mean(axis=1 - axis)
        assert steps[0] < 1.5 * np.sort(steps)[-len(steps) // 10]


def test_photo_that_cannot_be_used_is_refused(photo: Path) -> None:
    (photo / "cloth.png").write_bytes(b"no picture")
    with pytest.raises(InputError, match=r"cloth\.png: cannot be read as a photo"):
        laid(photo, None)
    (photo / "cloth.png").unlink()
    with pytest.raises(InputError, match="file must name a photo in the folder"):
        laid(photo, None)


def test_small_photo_is_refused(photo: Path) -> None:
    Image.new("RGB", (40, 40), "grey").save(photo / "cloth.png")
    with pytest.raises(InputError, match="smaller than 64 useful pixels"):
        laid(photo, None)


def test_finishes_are_read_once() -> None:
    assert fabrics._finishes() is fabrics._finishes()
