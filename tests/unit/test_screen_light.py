"""The moving lamp of the screen proof, against the renderer, and the file that it makes."""

from __future__ import annotations

import base64
import io
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import colour
import numpy as np
import pyembroidery
import pytest
from numpy.typing import NDArray
from PIL import Image
from relit_screen import relit, rest_of

from render.colour import to_linear
from render.draw.lobes import ABOVE, lobe_norms, lobe_shape, reflected, thread_frame
from render.draw.sheen import lamp_direction
from render.materials.fibres import load_fibres
from render.materials.job import make_job
from render.materials.lights import load_light
from render.materials.threads import make_thread
from render.model import CLOTH, Relightable, ThreadPlanes
from render.preview import draw_sewn
from render.proof import Proof, make_proof
from render.proof.carried import find_record
from render.proof.verify import verify
from render.proof.web import proof_html
from render.proof.web_drawing import MOST_BYTES, draw_choices
from render.proof.web_light import (
    AZIMUTHS,
    DEPTH_TOP,
    ROLL_LIMIT_DEG,
    ROLLS,
    TILT_LIMIT_DEG,
    TILTS,
    lamp_table,
    moving_lamp,
    steps_of,
)
from render.proof.wording import languages, words_in
from render.read import read_design


@pytest.fixture(scope="module")
def design(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A fill under a satin ring in another colour, and a line over both, as DST and PES."""
    folder = tmp_path_factory.mktemp("screen")
    pattern = pyembroidery.EmbPattern()
    for colour_hex in ("2f5f8f", "f0e2c0", "b3322c"):
        pattern.add_thread({"hex": colour_hex})
    for row in range(50):
        for x in range(0, 25, 3) if row % 2 == 0 else range(24, -1, -3):
            pattern.add_stitch_absolute(pyembroidery.STITCH, 10 * x, 4 * row)
    pattern.add_command(pyembroidery.COLOR_BREAK)
    for step in range(300):
        turn, radius = 2 * np.pi * step / 299, 70 + 25 * (step % 2)
        x, y = 120 + radius * np.cos(turn), 98 + radius * np.sin(turn)
        pattern.add_stitch_absolute(pyembroidery.STITCH, x, y)
    pattern.add_command(pyembroidery.COLOR_BREAK)
    for step in range(12):
        pattern.add_stitch_absolute(pyembroidery.STITCH, 10 + 20 * step, 170 - 12 * step)
    pattern.add_command(pyembroidery.END)
    for suffix in ("dst", "pes"):
        pyembroidery.write(pattern, str(folder / f"ring.{suffix}"))
    return folder


@pytest.fixture(scope="module")
def proof(design: Path) -> Proof:
    job = make_job(fabric="twill", thread=("1=#2f5f8f", "2=#f0e2c0", "3=#b3322c"), finish="cleaned")
    return make_proof(read_design(design / "ring.dst"), job, screen=True)


@pytest.fixture(scope="module")
def drawn(proof: Proof) -> Relightable:
    assert proof.drawn is not None
    return proof.drawn


@pytest.fixture(scope="module")
def page(proof: Proof) -> str:
    return proof_html([proof])


def difference(one: NDArray[np.uint8], other: NDArray[np.uint8], px: int) -> NDArray[np.float64]:
    """CIEDE2000 between patches of px x px pixels, each the mean of its light."""

    def lab(pixels: NDArray[np.uint8]) -> Any:
        rows, cols = (side // px * px for side in pixels.shape[:2])
        light = to_linear(pixels[:rows, :cols] / 255.0).reshape(rows // px, px, cols // px, px, 3)
        xyz = colour.RGB_to_XYZ(light.mean(axis=(1, 3)), "sRGB")
        return colour.XYZ_to_Lab(xyz)

    return np.asarray(colour.delta_E(lab(one), lab(other), method="CIE 2000"))


@pytest.mark.slow
def test_the_table_is_the_lobes_of_the_renderer(proof: Proof) -> None:
    """A small lamp: the table holds `reflected` at the middle of each step."""
    kinds = sorted({thread.kind for thread in proof.ready.threads})
    lamp = replace(moving_lamp(proof.job.light, proof.ready.threads), size_deg=0.01)
    for azimuth_deg, elevation_deg in ((225, 47), (10, 20)):
        table = lamp_table(lamp, azimuth_deg, elevation_deg)
        for number, kind in enumerate(kinds):
            lobes = load_fibres()[kind]
            for i, j, k in ((0, 0, 0), (24, 12, 64), (30, 5, 100), (47, 23, 127), (20, 17, 31)):
                tilt = np.deg2rad(((i + 0.5) / TILTS * 2 - 1) * TILT_LIMIT_DEG)
                roll = np.deg2rad(((j + 0.5) / ROLLS * 2 - 1) * ROLL_LIMIT_DEG)
                turn = (k + 0.5) * 180 / AZIMUTHS
                axis, normal = thread_frame(tilt, roll)
                light = lamp_direction(azimuth_deg - turn, elevation_deg)
                want = reflected(lobe_shape(lobes), lobe_norms(lobes), axis, normal, light, ABOVE)
                surface, volume, depth = table[number, i, j, k]
                assert surface == pytest.approx(want[0], abs=8e-3), "in 8 bits"
                assert volume == pytest.approx(want[1], abs=2e-4)
                assert depth == pytest.approx(want[2], abs=DEPTH_TOP / 500)


def test_a_lamp_that_stays_changes_nothing(proof: Proof, drawn: Relightable) -> None:
    lamp = moving_lamp(proof.job.light, proof.ready.threads)
    picture = proof.picture.pixels
    steps = steps_of(drawn.planes, lamp, picture)
    rest = rest_of(lamp, steps, picture, lamp.azimuth_deg, lamp.elevation_deg)
    again = relit(lamp, steps, rest, lamp.azimuth_deg, lamp.elevation_deg)
    assert np.abs(again.astype(int) - picture).mean() < 0.6
    assert np.abs(again.astype(int) - picture).max() <= 8


@pytest.mark.parametrize("azimuth_deg", [315.0, 45.0, 150.0])
def test_a_moved_lamp_looks_as_the_renderer_draws_it(
    proof: Proof, drawn: Relightable, azimuth_deg: float
) -> None:
    """On 1 mm patches of thread within 1 in the mean, and three times nearer than the picture unmoved."""
    key, *others = proof.job.light.lamps
    light = replace(proof.job.light, lamps=(replace(key, azimuth_deg=azimuth_deg), *others))
    (want,) = draw_sewn(proof.ready, replace(proof.job, light=light), [proof.window])
    lamp = moving_lamp(proof.job.light, proof.ready.threads)
    picture = proof.picture.pixels
    steps = steps_of(drawn.planes, lamp, picture)
    rest = rest_of(lamp, steps, picture, lamp.azimuth_deg, lamp.elevation_deg)
    ours = relit(lamp, steps, rest, azimuth_deg, lamp.elevation_deg)
    px = round(proof.window.px_per_mm)
    share = np.repeat((steps.block > 0)[..., None] * np.uint8(255), 3, axis=-1)
    rows, cols = (side // px * px for side in share.shape[:2])
    thread = share[:rows, :cols, 0].reshape(rows // px, px, cols // px, px).mean(axis=(1, 3)) > 128
    off = difference(ours, want.pixels, px)[thread].mean()
    assert off < 1.0
    assert off < difference(picture, want.pixels, px)[thread].mean() / 3


def test_the_picture_drawn_with_planes_is_the_picture(proof: Proof) -> None:
    (want,) = draw_sewn(proof.ready, proof.job, [proof.window])
    assert (proof.picture.pixels == want.pixels).all()


def test_planes_say_what_the_stitches_are(proof: Proof, drawn: Relightable) -> None:
    """Azimuths of the topmost thread are those of the sewn stitches, but for filaments that run askew,
    and blocks those of the plan."""
    planes, sewn = drawn.planes, proof.ready.sewn
    thread = planes.order != CLOTH
    order = planes.order[thread]
    assert (planes.block[thread] == sewn.plan.colour_block[order]).mean() > 0.98
    run = sewn.end_mm - sewn.start_mm
    want = np.rad2deg(np.arctan2(run[:, 1], run[:, 0]))[order]
    lean = np.array([load_fibres()[one.kind].lean_deg for one in proof.ready.threads])
    want = want + lean[planes.block[thread]]
    off = np.abs((planes.azimuth_deg[thread] - want + 90) % 180 - 90)
    assert np.median(off) < 1.5
    assert (drawn.final >= planes.order).all()
    for earlier in drawn.earlier:
        later = earlier.order != CLOTH
        assert (
            sewn.plan.colour_block[earlier.order[later]] < sewn.plan.colour_block[drawn.final[later]]
        ).all()


def test_the_picture_is_the_renderers_own(proof: Proof, page: str) -> None:
    """Within CIEDE2000 1 in the mean over 1 mm patches, and nowhere over 4."""
    still = re.search(r'id="still" src="data:image/webp;base64,([^"]+)"', page)
    assert still
    ours = np.asarray(Image.open(io.BytesIO(base64.b64decode(still[1]))).convert("RGB"))
    assert ours.shape == proof.picture.pixels.shape
    off = difference(ours, proof.picture.pixels, round(proof.window.px_per_mm))
    assert off.mean() < 1.0
    assert off.max() < 4.0


def test_the_file_is_small_alone_and_always_the_same(proof: Proof, page: str) -> None:
    assert len(page.encode()) <= MOST_BYTES
    assert not re.search(r'(src|href)="(?!data:|#)', page)
    assert not re.search(r"\b(fetch|XMLHttpRequest|sendBeacon|WebSocket|import\()", page)
    assert proof_html([proof]) == page


def test_three_choices_fit_into_one_file(proof: Proof) -> None:
    choices = draw_choices([proof, proof, proof])
    assert sum(choice.size for choice in choices) < MOST_BYTES
    assert [len(choice.near) > 0 for choice in choices] == [True, False, False]


def test_the_page_verifies_its_design(page: str, design: Path, repository: Path) -> None:
    record = find_record(page.encode())
    assert record is not None
    for suffix in ("dst", "pes"):
        assert verify(record, read_design(design / f"ring.{suffix}")).approved
    assert not verify(record, read_design(repository / "examples/crest.dst")).approved


def test_every_language_has_every_word_of_the_page() -> None:
    want = words_in("en").tables["screen"]
    braces = {key: set(re.findall(r"{\w+}", text)) for key, text in want.items()}
    for code in languages():
        words = words_in(code).tables["screen"]
        assert {key: set(re.findall(r"{\w+}", text)) for key, text in words.items()} == braces, code
        assert code == "en" or sum(words[key] == want[key] for key in want) < 6, code


def test_hundreds_of_blocks_in_few_threads_keep_their_colours() -> None:
    """A byte a pixel tells threads apart, not colour blocks: names sewn letter by letter have hundreds."""
    red, blue = make_thread((0.7, 0.1, 0.1)), make_thread((0.1, 0.2, 0.7), label="ours")
    lamp = moving_lamp(load_light("soft-studio"), (red, blue, replace(red, needle=3)) * 100)
    assert (len(lamp.dye), len(lamp.kind)) == (2, 2)
    block = np.arange(-1, 300, dtype=np.int32)[None]
    even = np.zeros(block.shape, np.float32)
    planes = ThreadPlanes(block.copy(), block, even, even, even, even + 1, np.ones(block.shape, np.uint8))
    steps = steps_of(planes, lamp, np.full((*block.shape, 3), 200, np.uint8))
    assert steps.block[0, 0] == 0
    np.testing.assert_array_equal(steps.block[0, 1:], [1, 2, 1] * 100)
