"""Two hundred colours that were listed before any dye was solved for them; white light; tone on tone."""

from __future__ import annotations

import csv
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import samples
from numpy.typing import NDArray
from physics.test_colour import _differences
from scipy.ndimage import binary_erosion, gaussian_filter
from skimage.color import deltaE_ciede2000, rgb2lab

from render.colour import to_linear, to_srgb
from render.compose.encoding import encode, shoulder
from render.draw import draw, flat_satin, sheen
from render.draw.exposure import unbalanced_card, white_card_linear
from render.materials.fabrics import load_fabric
from render.materials.fibres import load_fibres
from render.materials.job import make_job
from render.materials.lights import light_names, load_light
from render.model import Colour, Light, Thread, Window

LISTED = Path(__file__).with_name("colours.csv")
STUDIO = load_light("soft-studio")
MEAN, WORST = 1.5, 4.0  # CIEDE2000


def _listed() -> NDArray[np.float64]:
    rows = csv.DictReader(LISTED.read_text("utf-8").splitlines())
    return np.array([[int(row[name]) for name in ("red", "green", "blue")] for row in rows]) / 255.0


def _shown_by_the_solver(colours: NDArray[np.float64], kind: str, light: Light) -> NDArray[np.float64]:
    """What the solver's own integral over a flat satin gives for the dye it found, sRGB."""
    table = sheen.sheen_table(load_fibres()[kind], light)
    steps, shown, shine = flat_satin.flat_satin(table)
    out = []
    for colour in colours:
        albedo, gloss = flat_satin.dye_albedo(tuple(to_linear(colour).tolist()), table)
        # Above 1 an albedo stands for light of neighbours, which is sent on once.
        dyed = np.array([np.interp(a, steps, shown[:, c]) * max(a, 1.0) for c, a in enumerate(albedo)])
        out.append(to_srgb(shoulder(dyed + gloss * shine)))
    return np.array(out)


def test_the_list_is_spread_and_what_thread_can_show() -> None:
    colours = _listed()
    light = to_linear(colours)
    assert len(colours) == 200
    assert (light.min(1) >= 0.012).all()
    assert light.max() <= 0.75
    lab = rgb2lab(colours[None])[0]
    away = np.linalg.norm(lab[:, None] - lab[None], axis=2) + 1e3 * np.eye(200)
    assert away.min() > 9, "no two of them are alike"


@pytest.mark.parametrize("kind", ["rayon", "trilobal-polyester", "matte-polyester", "cotton"])
def test_a_dye_is_found_for_each_of_them(kind: str) -> None:
    colours = _listed()
    shown = _shown_by_the_solver(colours, kind, STUDIO)
    far = deltaE_ciede2000(rgb2lab(shown[None])[0], rgb2lab(colours[None])[0])
    assert far.mean() <= MEAN
    assert far.max() <= WORST


def _drawn_differences(every: int, directions: int) -> list[float]:
    chosen: tuple[Colour, ...] = tuple(tuple(row) for row in _listed()[::every].tolist())  # type: ignore[misc]
    return _differences(chosen, "rayon", directions)


def test_some_of_them_drawn() -> None:
    far = _drawn_differences(every=25, directions=6)
    assert np.mean(far) <= MEAN
    assert max(far) <= WORST


@pytest.mark.slow
def test_many_of_them_drawn() -> None:
    far = _drawn_differences(every=4, directions=6)
    assert np.mean(far) <= MEAN
    assert max(far) <= WORST


# White balance 1 takes the light's colour out wholly: grey thread is then as grey as it is by daylight. Where
# a light as it comes keeps some of its colour, thread is tinted as a grey card is.
@pytest.mark.parametrize("balanced", [True, False])
@pytest.mark.parametrize("name", sorted(light_names()))
def test_grey_stays_grey_under_every_light(name: str, balanced: bool) -> None:
    given = load_light(name)
    light = replace(given, white_balance=1.0) if balanced else given
    tint = unbalanced_card(light) / white_card_linear(light)
    satin = samples.satin(4.0, 4.0)
    sewn = samples.sewn_of(samples.Part(satin, "satin"))
    thread = Thread((0.5, 0.5, 0.5), **samples.RAYON)  # type: ignore[arg-type]
    drawn = samples.draw_flat(
        sewn, Window((0.0, 0.0), 24.0, 36, 36), threads=(thread,), light=light
    ).thread_linear.mean((0, 1))
    lab = rgb2lab(np.asarray(to_srgb(shoulder(drawn)))[None, None])[0, 0]
    card = rgb2lab(to_srgb(drawn.mean() * tint)[None, None])[0, 0]
    assert np.hypot(*(lab - card)[1:]) < 1.0
    kept = {"shop-lamp": 0.25, "window": 0.15}.get(name, 0.0)
    assert given.white_balance == pytest.approx(1.0 - kept)
    if balanced:
        assert np.hypot(lab[1], lab[2]) < 1.0
    elif name == "shop-lamp":
        assert lab[2] > 5.0, "warm"


TONES: tuple[tuple[str, Colour], ...] = (
    ("white", (0.95, 0.95, 0.94)), ("navy", (0.05, 0.08, 0.20)), ("black", (0.06, 0.06, 0.06)),
)  # fmt: skip


def tone_on_tone(colour: Colour, px_per_mm: float = 16.0) -> tuple[NDArray[np.uint8], NDArray[np.float32]]:
    """A satin bar of a colour on twill of the same, as written; and where thread covers."""
    job = make_job(
        fabric="twill", fabric_colour="#" + bytes(round(255 * c) for c in colour).hex(), light="soft-studio"
    )
    sewn = samples.sewn_of(samples.Part(samples.satin(10.0, 4.0), "satin"))
    window = Window((0.0, 0.0), px_per_mm, int(10 * px_per_mm), int(14 * px_per_mm))
    thread = Thread(colour, **samples.RAYON)  # type: ignore[arg-type]
    lobes = load_fibres()
    (layers,) = draw(sewn, threads=(thread,), lobes=lobes, load_fabric=load_fabric, job=job, windows=[window])
    linear = layers.thread_linear + layers.cloth_linear * layers.cloth_share[..., None]
    return encode(linear), layers.covered


@pytest.mark.parametrize(("name", "colour"), TONES)
def test_tone_on_tone_is_readable_at_its_own_lightness(name: str, colour: Colour) -> None:
    """Not clipped, not made lighter or darker to show; and sheen sets the satin off from the cloth."""
    picture, covered = tone_on_tone(colour)
    lightness = rgb2lab(picture)[..., 0]
    asked = rgb2lab(np.array(colour)[None, None])[0, 0, 0]
    thread, cloth = covered > 0.99, covered < 0.01
    assert picture.min() > 0
    assert picture.max() < 255
    assert lightness[cloth].mean() == pytest.approx(asked, abs=4)
    # Off its ends, which bend down into their holes: a millimetre of the bar's four at either side.
    flat = binary_erosion(thread, iterations=16)
    assert flat.sum() > 0.3 * thread.sum()
    assert lightness[flat].mean() == pytest.approx(asked, abs=4)
    # Seen from so far that neither weave nor single threads show: a millimetre is one.
    wide = gaussian_filter(lightness, 8.0)
    inside, outside = wide[thread], wide[:16]
    assert np.ptp(inside) > 2 * np.ptp(outside), name
    assert np.ptp(inside) > 2.0, name
