"""A thread fitted to a photograph of its angle wheel: known numbers come back, and bad photographs do not."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from near import assert_near
from numpy.typing import NDArray
from PIL import Image
from scipy.ndimage import map_coordinates

from render.cli import run
from render.colour import ciede2000, hex_colour, parse_colour, to_lab, to_linear, to_srgb
from render.draw import draw
from render.draw.again import fibre_table, glossier
from render.errors import InputError, UsageError
from render.fit.own_thread import fit_thread
from render.fit.shine import DARK_SIGMA, fit_shine
from render.fit.wheel_photo import PAPER_LINEAR, WheelPhoto, read_wheel, wedge_of
from render.materials.fabrics import load_fabric
from render.materials.fibres import load_fibres, shine_of
from render.materials.job import make_job
from render.materials.machines import load_machine
from render.materials.threads import load_threads, make_thread
from render.model import Window
from render.plan import plan
from render.preview import sew_design
from render.read import read_design
from render.swatch.wheel import FRAME_MM, WEDGES, make_wheel
from render.write.stitch_file import encode_stitches

COLOUR, SHINE = (0.78, 0.60, 0.22), {"gloss": 1.6, "gloss_width": 0.8, "evenness": 1.5}
PX_PER_MM, TURN_DEG, EXPOSURE = 8.0, 7.0, 0.42
CAMERA = np.array([1.35, 1.0, 0.6])  # a white balance that is off
LAMP = """[[lamp]]
azimuth_deg = 225
elevation_deg = 42
size_deg = 8
irradiance = 2.6
temperature_k = 6500

[dome]
radiance = 0.1
temperature_k = 6500
"""


@dataclass(frozen=True)
class Shot:
    linear: NDArray[np.float64]
    corners_px: NDArray[np.float64]
    paper_px: tuple[float, float]
    lamp: Path

    def srgb(self) -> NDArray[np.float32]:
        return to_srgb(self.linear).astype(np.float32)

    def on_frame(self) -> str:
        return " ".join(f"{x:.1f},{y:.1f}" for x, y in self.corners_px)


@pytest.fixture(scope="module")
def shot(tmp_path_factory: pytest.TempPathFactory) -> Shot:
    """The wheel in a known thread on twill with a sheet of paper beside it, as a camera sees it: turned, its
    white balance off, noisy; linear light. The fit knows other places of the threads."""
    lamp = tmp_path_factory.mktemp("lamp") / "lamp.toml"
    lamp.write_text(LAMP)
    thread = make_thread(COLOUR, kind="rayon", shine=SHINE)
    job = make_job(fabric="twill", light=str(lamp), finish="cleaned", seed=3)
    ready = sew_design(make_wheel().design, job)
    side = round(60 * PX_PER_MM)
    (layers,) = draw(
        ready.sewn,
        threads=(thread,),
        lobes=load_fibres((thread,)),
        load_fabric=load_fabric,
        job=job,
        windows=[Window((0.0, 0.0), PX_PER_MM, side, side)],
    )
    linear = layers.thread_linear + layers.cloth_linear * layers.cloth_share[..., None]
    y, x = (np.mgrid[:side, :side] + 0.5 - side / 2) / PX_PER_MM
    linear[(x > 22) & (x < 28) & (abs(y) < 12)] = PAPER_LINEAR
    turn = np.deg2rad(TURN_DEG)
    back = np.stack([y * np.cos(turn) - x * np.sin(turn), x * np.cos(turn) + y * np.sin(turn)])
    place = back * PX_PER_MM + side / 2 - 0.5
    seen = np.stack([map_coordinates(linear[..., c], place, order=1, mode="nearest") for c in range(3)], -1)
    seen *= CAMERA * EXPOSURE * (1 + 0.01 * np.random.default_rng(3).normal(size=seen.shape))
    half = FRAME_MM / 2
    marks = np.array([(-half, -half), (half, -half), (half, half), (-half, half), (25.0, 0.0)])
    ahead = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    marks_px = marks @ ahead * PX_PER_MM + side / 2
    return Shot(seen, marks_px[:4], (float(marks_px[4, 0]), float(marks_px[4, 1])), lamp)


@pytest.mark.slow
def test_known_numbers_come_back(shot: Shot, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """From a photograph as a shop saves it, by the command a shop types; and the file is a thread list."""
    photo, mine = tmp_path / "wheel.jpg", tmp_path / "mine.toml"
    Image.fromarray(np.rint(255 * shot.srgb()).astype(np.uint8)).save(photo, quality=92)
    told = ["--corners", shot.on_frame(), "--paper", "{:.0f},{:.0f}".format(*shot.paper_px)]
    told += ["--light", str(shot.lamp), "--kind", "rayon", "--fabric", "twill", "-o", str(mine), "--json"]
    assert run(["fit-thread", str(photo), *told]) == 0
    account = json.loads(capsys.readouterr().out)
    found = to_lab(np.array(parse_colour(account["colour"])))
    assert ciede2000(found, to_lab(np.array(COLOUR))) < 2
    for name, within in (("gloss", 0.35), ("gloss_width", 0.3), ("evenness", 0.7)):
        off = abs(np.log(account[name] / SHINE[name]))
        assert off < within, name
        # And as sure as it says; what is hardly shown stays near the kind.
        assert off < 3.5 * (account["shine_sigma_percent"][name] or 60) / 100, name
    assert set(account["hardly_shown"]) <= {"evenness"}
    assert abs(account["lamp_seems_turned_deg"]) < 4
    (thread,) = load_threads(str(mine))
    assert thread.fitted == shine_of("rayon", account["gloss"], account["gloss_width"], account["evenness"])
    assert thread.shines_as in load_fibres((thread,))
    assert hex_colour(thread.colour_srgb) == account["colour"]
    assert run(["fit-thread", str(photo), *told]) == 2, "nothing is replaced"


def _read(shot: Shot, linear: NDArray[np.float64]) -> WheelPhoto:
    return read_wheel(to_srgb(linear).astype(np.float32), shot.corners_px, shot.paper_px)


def test_white_balance_and_a_lamp_that_falls_off_are_taken_out(shot: Shot) -> None:
    """Other gains of the camera change nothing; a lamp that is a fifth weaker at one side, little."""
    plain = _read(shot, shot.linear).wedges
    other = _read(shot, shot.linear * [0.8, 1.1, 1.6]).wedges
    assert other == pytest.approx(plain, rel=3e-3)
    slope = np.exp(np.linspace(-0.09, 0.09, shot.linear.shape[1]))[:, None]
    assert _read(shot, shot.linear * slope).wedges == pytest.approx(plain, rel=0.03)
    assert (shot.linear * slope)[:, -1].mean() > 1.15 * (shot.linear * slope)[:, 0].mean()


@pytest.mark.parametrize(
    ("change", "corners", "message"),
    [
        (lambda linear: linear * 2.6, None, "overexposed"),
        (lambda linear: linear * 0.2, None, "too dark"),
        (lambda linear: linear * np.exp(np.linspace(-1, 0, linear.shape[1]))[:, None], None, "changes"),
        (lambda linear: linear, [(40, 60), (440, 60), (400, 300), (80, 300)], "straight above"),
        (lambda linear: linear, [(200, 200), (260, 200), (260, 260), (200, 260)], "go nearer"),
    ],
)
def test_photographs_that_cannot_tell_are_refused(
    shot: Shot, change: object, corners: list[tuple[float, float]] | None, message: str
) -> None:
    places = shot.corners_px if corners is None else np.array(corners, float)
    assert callable(change)
    with pytest.raises(InputError, match=message):
        read_wheel(to_srgb(change(shot.linear)).astype(np.float32), places, shot.paper_px)


def test_paper_must_be_paper(shot: Shot) -> None:
    with pytest.raises(InputError, match="not evenly white"):
        read_wheel(shot.srgb(), shot.corners_px, tuple(shot.corners_px[0].tolist()))
    with pytest.raises(InputError, match="off the photo"):
        read_wheel(shot.srgb(), shot.corners_px, (2.0, 2.0))


def _wedges(theta: NDArray[np.float64], towards_deg: float = 225.0) -> NDArray[np.float64]:
    """A thread of closed form: light of its colour that swings with the stitches, and white gloss."""
    turn = 2 * np.deg2rad(np.arange(WEDGES) * 30.0 - towards_deg)
    colour, (gloss, width, even) = np.exp(theta[:3]), np.exp(theta[3:])
    swing = 1 + 0.4 / even * np.cos(turn)
    shine = 0.05 * gloss * np.exp((np.cos(turn) - 1) / (0.4 * width))
    return colour * swing[:, None] + shine[:, None]


def test_the_solver_finds_what_was_put_in_and_how_sure_it_is() -> None:
    truth = np.log([0.6, 0.3, 0.1, 1.5, 0.8, 1.4])
    exact = fit_shine(_wedges(truth), _wedges)
    assert np.log(np.concatenate([exact.colour_linear, exact.shine])) == pytest.approx(truth, abs=0.01)
    assert exact.rms < 2e-3
    assert exact.held == ()
    rng, off = np.random.default_rng(8), []
    for _ in range(40):
        noisy = fit_shine(_wedges(truth) * np.exp(rng.normal(0, 0.01, (WEDGES, 1))), _wedges)
        found = np.log(np.concatenate([noisy.colour_linear, noisy.shine]))
        off.append((found - truth) / np.concatenate([noisy.colour_sigma, noisy.shine_sigma]))
    assert 0.6 < float(np.sqrt((np.array(off) ** 2).mean())) < 1.5


def test_wedges_that_cannot_tell_are_refused_or_said() -> None:
    truth = np.log([0.6, 0.3, 0.1, 1.5, 0.8, 1.4])
    flat = np.broadcast_to(_wedges(truth).mean(0), (WEDGES, 3))
    with pytest.raises(InputError, match="no sheen to fit"):
        fit_shine(np.array(flat), _wedges)
    with pytest.raises(InputError, match="40 degrees further clockwise"):
        fit_shine(_wedges(truth, 265.0), _wedges)
    blind = fit_shine(_wedges(truth), lambda theta: _wedges(theta * [1, 1, 1, 1, 0, 1]))
    assert blind.held == ("gloss_width",)
    # Where gloss alone is seen of a channel, its colour stays unknown, and the rest is found.
    dark = np.array([1, 1, 0, 1, 1, 1]) * truth + [0, 0, np.log(0.05), 0, 0, 0]
    only_gloss = fit_shine(_wedges(dark), lambda theta: _wedges(np.append(theta[:2], [dark[2], *theta[3:]])))
    assert only_gloss.shine == pytest.approx(np.exp(truth[3:]), rel=0.02)
    assert only_gloss.colour_sigma[2] == pytest.approx(DARK_SIGMA)
    assert only_gloss.colour_sigma[:2].max() < 0.1
    with pytest.raises(InputError, match="not show how this thread shines"):
        fit_shine(_wedges(np.zeros(6) - 1), lambda theta: _wedges(theta * [1, 1, 1, 0, 0, 0]))


def test_more_gloss_is_the_same_table_scaled() -> None:
    light = make_job().light
    scaled = glossier(fibre_table(load_fibres()["rayon"], light), 1.6)
    made = fibre_table(shine_of("rayon", 1.6, 1.0, 1.0), light)
    assert_near(scaled.values, made.values, rel=1e-4, abs=1e-6)
    assert scaled.skin_share == pytest.approx(made.skin_share, rel=1e-6)


def test_a_light_without_a_known_place_is_refused() -> None:
    facts = {"corners_px": np.zeros((4, 2)), "paper_px": (0.0, 0.0), "tex": None}
    with pytest.raises(UsageError, match="one lamp whose place is known"):
        fit_thread("none.jpg", make_job(light="overcast"), kind="rayon", **facts)  # type: ignore[arg-type]
    with pytest.raises(InputError, match="brighter than a photo can hold"):
        fit_thread("none.jpg", make_job(), kind="neon", **facts)  # type: ignore[arg-type]


def test_the_wheel_can_be_sewn_and_holds_its_wedges(tmp_path: Path) -> None:
    wheel = make_wheel()
    design = read_design(encode_stitches(wheel.design, "dst"), name="wheel.dst")
    sewing = plan(design, load_machine("unknown"))
    assert (len(sewing.start_mm), len(sewing.blocks)) == (wheel.stitches, 1)
    runs = np.hypot(*(sewing.end_mm - sewing.start_mm).T)
    assert runs.max() < 7.1, "no stitch that a machine would split"
    for number, (first, last) in enumerate(wheel.wedges):
        run = (sewing.end_mm - sewing.start_mm)[first : last + 1]
        # Each lies across its spoke, to and fro.
        off = np.degrees(np.arctan2(run[:, 1], run[:, 0])) - 30 * number - 90
        assert np.abs((off + 90) % 180 - 90).mean() < 8
        middle = 0.5 * (sewing.start_mm + sewing.end_mm)[first + 8 : last - 12] - np.array(
            [(sewing.box_mm[0] + sewing.box_mm[2]) / 2, (sewing.box_mm[1] + sewing.box_mm[3]) / 2]
        )
        assert (wedge_of(middle) == number).mean() > 0.9
    assert run_swatch(tmp_path) == 0


def run_swatch(folder: Path) -> int:
    return run(["swatch", "--wheel", "-o", str(folder / "wheel.pes")])


def test_exposure_of_the_test_photograph_is_that_of_a_camera(shot: Shot) -> None:
    """The light behind these tests: paper well below clipping, its channels apart."""
    paper = to_linear(shot.srgb())[
        int(shot.paper_px[1]) - 5 : int(shot.paper_px[1]) + 5,
        int(shot.paper_px[0]) - 5 : int(shot.paper_px[0]) + 5,
    ].mean((0, 1))
    assert paper == pytest.approx(PAPER_LINEAR * EXPOSURE * CAMERA, rel=0.02)


def test_wedges_that_are_black_show_nothing() -> None:
    with pytest.raises(InputError, match="black on this photo"):
        fit_shine(np.zeros((WEDGES, 3)), lambda theta: np.ones((WEDGES, 3)))


@pytest.mark.parametrize(
    ("corners", "reason"),
    [
        (((10, 10), (210, 10), (10, 10), (210, 10)), "is no square"),
        (((10, 10), (10, 210), (210, 210), (210, 10)), "is no square"),
        (((110, 110), (310, 110), (310, 310), (110, 310)), "lies off the photo, which has 300 x 300 pixels"),
    ],
)
def test_corners_that_no_frame_has(corners: tuple[tuple[int, int], ...], reason: str) -> None:
    photo = np.full((300, 300, 3), 0.5, np.float32)
    with pytest.raises(InputError, match=reason):
        read_wheel(photo, np.array(corners, float), (20.0, 250.0))
