"""The light in the browser against its twin in Python, from the very planes that the page carries."""

from __future__ import annotations

import base64
import io
import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image
from relit_screen import relit, rest_of

from render.proof.web_light import Steps, moving_lamp

# Set and read in the same frame in which the page draws: a WebGL canvas is empty after that.
SET_AND_READ = """(sliders) => new Promise((done) => {
    for (const [name, value] of Object.entries(sliders)) {
        const slider = document.getElementById(name);
        slider.value = value;
        slider.dispatchEvent(new Event("input"));
    }
    requestAnimationFrame(() => {
        const canvas = document.querySelector(".sheet canvas:not(.detail)"), gl = canvas.getContext("webgl2");
        const pixels = new Uint8Array(4 * canvas.width * canvas.height);
        gl.readPixels(0, 0, canvas.width, canvas.height, gl.RGBA, gl.UNSIGNED_BYTE, pixels);
        let text = "";
        for (let k = 0; k < pixels.length; k += 30000)
            text += String.fromCharCode(...pixels.subarray(k, k + 30000));
        done([canvas.height, canvas.width, btoa(text)]);
    });
})"""


def shown(page: Any, azimuth: float, elevation: float, sewn: int) -> NDArray[np.uint8]:
    """The canvas as the page draws it."""
    # Another lamp first, so that the page has something to draw.
    page.evaluate(SET_AND_READ, {"azimuth": azimuth + 5, "elevation": 50, "sewn": 1})
    sliders = {"azimuth": azimuth, "elevation": elevation, "sewn": sewn}
    rows, cols, text = page.evaluate(SET_AND_READ, sliders)
    pixels = np.frombuffer(base64.b64decode(text), np.uint8).reshape(rows, cols, 4)
    return pixels[::-1, :, :3]


@pytest.fixture(scope="module")
def carried(file: Path) -> dict[str, NDArray[np.uint8]]:
    """The planes and pictures of the first choice, decoded by another decoder than the browser's."""
    text = file.read_text("utf-8")
    pictures = json.loads(re.search(r'id="pictures">(.*?)</script>', text, re.S)[1])[0]["main"]
    pictures["picture"] = re.search(r'id="still" src="data:image/webp;base64,([^"]+)"', text)[1]

    def decoded(name: str) -> NDArray[np.uint8]:
        picture = Image.open(io.BytesIO(base64.b64decode(pictures[name])))
        plain = name in ("picture", "bare", "before0", "before1")
        return np.asarray(picture.convert("RGB" if plain else "L"))

    return {name: decoded(name) for name in pictures}


@pytest.fixture(scope="module")
def steps(carried: dict[str, NDArray[np.uint8]]) -> Steps:
    return Steps(**{name: carried[name] for name in Steps.__slots__})


@pytest.fixture
def page(look: Callable[..., Any]) -> Any:
    return look().page


def order(carried: dict[str, NDArray[np.uint8]], name: str) -> NDArray[np.int64]:
    return carried[f"{name}_high"].astype(np.int64) * 256 + carried[f"{name}_low"]


def test_the_browser_lights_as_python_does(
    page: Any, proof: Any, carried: dict[str, NDArray[np.uint8]], steps: Steps
) -> None:
    """Mean difference at most 2 of 255 (1.2 at worst when this was written), for lamps all around."""
    lamp = moving_lamp(proof.job.light, proof.ready.threads)
    rest = rest_of(lamp, steps, carried["picture"], lamp.azimuth_deg, lamp.elevation_deg)
    stitches = proof.account.stitches
    for azimuth, elevation in ((0, 30), (90, 60), (225, 20), (315, 47), (140, 84)):
        ours = relit(lamp, steps, rest, azimuth, elevation).astype(int)
        theirs = shown(page, azimuth, elevation, stitches).astype(int)
        assert np.abs(ours - theirs).mean() < 2.0, (azimuth, elevation)
        assert np.percentile(np.abs(ours - theirs), 99.5) <= 12, (azimuth, elevation)


def test_the_lamp_moves_light_on_thread_and_not_on_cloth(
    page: Any, proof: Any, carried: dict[str, NDArray[np.uint8]], steps: Steps
) -> None:
    left = shown(page, 180, 25, proof.account.stitches).astype(int)
    right = shown(page, 90, 25, proof.account.stitches).astype(int)
    change = np.abs(left - right).max(axis=-1)
    assert (change[steps.block == 0] == 0).all()
    assert (change[steps.block > 0] > 2).mean() > 0.6
    # A satin shines when the light comes across its threads: the column's lie along x, the bar's along y.
    column, bar = np.s_[90:160, 210:235], np.s_[168:195, 130:190]
    assert (steps.block[column] == 2).mean() > 0.8
    assert (steps.block[bar] == 2).mean() > 0.8
    assert right[column].mean() > left[column].mean() + 4
    assert left[bar].mean() > right[bar].mean() + 4


def test_a_piece_half_sewn_shows_what_lay_there(
    page: Any, proof: Any, carried: dict[str, NDArray[np.uint8]], steps: Steps
) -> None:
    lamp = moving_lamp(proof.job.light, proof.ready.threads)
    rest = rest_of(lamp, steps, carried["picture"], lamp.azimuth_deg, lamp.elevation_deg)
    whole = relit(lamp, steps, rest, lamp.azimuth_deg, lamp.elevation_deg)
    for sewn in (0, 200, proof.ready.sewn.plan.blocks[1].last, proof.account.stitches - 3):
        theirs = shown(page, lamp.azimuth_deg, lamp.elevation_deg, sewn).astype(int)
        final, latest, first = (order(carried, name) for name in ("order", "before0", "before1"))
        under = carried["bare"]
        for name, stitch in (("before1", first), ("before0", latest)):
            under = np.where(((stitch > 0) & (stitch <= sewn))[..., None], carried[name], under)
        ours = np.where((final <= sewn)[..., None], whole, under).astype(int)
        assert np.abs(ours - theirs).mean() < 2.0, sewn
    bare = shown(page, lamp.azimuth_deg, lamp.elevation_deg, 0)
    cloth = carried["picture"][steps.block == 0].mean(0)
    assert np.abs(bare[steps.block > 0].mean(0) - cloth).max() < 12, "before the first stitch all is cloth"
