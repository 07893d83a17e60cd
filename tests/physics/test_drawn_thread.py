"""A single thread as drawn: its twist and hand, its section."""

from __future__ import annotations

import math
from unittest.mock import patch

import numpy as np
import pytest
import samples
from numpy.typing import NDArray

from render.draw import sheen
from render.draw.sheen import SheenTable
from render.draw.strands import laid_section_mm
from render.model import FibreLobes, Light

PX_PER_MM = 60.0


def _alike_from_all_sides(_lobes: FibreLobes, _light: Light) -> SheenTable:
    steps = sheen.AZIMUTH_STEPS, sheen.TILT_STEPS, sheen.ROLL_STEPS
    values = np.full((*steps, sheen.COLUMNS), 0.5, np.float32)
    values[..., :6] = 1e-4  # skin: single filaments that glint are no plies
    return SheenTable(values, np.full(steps[1:], 0.5), 1.0)


ROWS = 48  # of the picture for one thread
APART_MM = 4.0
THREADS = 40

Strips = list[tuple[NDArray[np.float64], NDArray[np.float64]]]


@pytest.fixture(scope="module")
def long_threads() -> dict[float, Strips]:
    """Green light and cover of straight stitches along x, by the hand of their twist; lit so that
    nothing but grooves and filaments shows, since slopes and highlights shift with the light.
    Several, since the twist of each runs unevenly."""
    y_mm = APART_MM * np.arange(THREADS)
    parts = [samples.Part(samples.running((-15, y), (15, y), stitch_mm=30), "running") for y in y_mm]
    sewn = samples.sewn_of(*parts)
    drawn = {}
    with patch("render.draw.shading.sheen_table", _alike_from_all_sides):
        for twist in (1.0, -1.0):
            strips = []
            for y in y_mm:
                window = samples.Window((0.0, float(y)), PX_PER_MM, ROWS, 1740)
                got = samples.draw_flat(sewn, window, threads=(samples.CREAM,), twist=twist)
                strips.append((got.thread_linear[..., 1].astype(float), got.covered.astype(float)))
            drawn[twist] = strips
    return drawn


def _ply_angle_deg(strips: Strips) -> tuple[float, float]:
    """Angle of the grooves against threads along the rows, where they are highest, positive where
    they go down to the right; and how many there are a mm.

    A groove is where light jumps along a row; its place shifts from row to row as the phase of
    the jumps' waves does.
    """
    across: NDArray[np.complex128] = np.zeros(12, complex)
    frequency_of = []
    for light, covered in strips:
        middle = round(float(covered.sum(1) @ (np.arange(len(covered)) + 0.5) / covered.sum()))
        jumps = np.diff(light, 2, axis=1)[:, 30:-30] ** 2
        waves = (jumps - jumps.mean(1, keepdims=True)) * np.hanning(jumps.shape[1])
        spectrum = np.fft.rfft(waves, 8 * jumps.shape[1], axis=1)[middle - 6 : middle + 6]
        frequency = np.fft.rfftfreq(8 * jumps.shape[1], 1 / PX_PER_MM)
        # Between one groove in 2 mm and one in 0.6 mm: neither drift nor overtones.
        band = (frequency > 0.5) & (frequency < 1.7)
        k = int(np.where(band, (np.abs(spectrum) ** 2).sum(0), 0).argmax())
        frequency_of.append(frequency[k])
        about = slice(k - 12, k + 13)  # within a tenth
        across += (spectrum[:, about] * spectrum[5:6, about].conj()).sum(1)
    phase = np.unwrap(np.angle(across))
    per_mm = np.polyfit((np.arange(-6, 6) + 0.5) / PX_PER_MM, phase, 3)[-2]
    grooves_per_mm = float(np.mean(frequency_of))
    return math.degrees(math.atan(-2 * math.pi * grooves_per_mm / per_mm)), grooves_per_mm


# Surface helix: tan(alpha) = pi d T, d the thread's width and T its turns per length (textile
# handbooks; e.g. GATE Textile 2005, question 71).
@pytest.mark.slow
def test_ply_angle(long_threads: dict[float, Strips]) -> None:
    width_mm = np.mean([cover[:, 60:-60].sum(0).mean() for _, cover in long_threads[1.0]]) / PX_PER_MM
    angle_deg, grooves_per_mm = _ply_angle_deg(long_threads[1.0])
    turns_per_mm = grooves_per_mm / 2  # two plies
    assert turns_per_mm == pytest.approx(samples.CREAM.twist_per_m / 1000, rel=0.02)
    assert abs(angle_deg) == pytest.approx(
        math.degrees(math.atan(math.pi * width_mm * turns_per_mm)), abs=1.5
    )


# ISO 2: fibres of a Z-twisted thread held upright lie along the middle stroke of a Z, from lower
# left to upper right; lying on its side a Z is an N, whose stroke falls to the right.
@pytest.mark.slow
def test_thread_has_z_twist_and_its_mirror_image_s(long_threads: dict[float, Strips]) -> None:
    def angle_deg(hand: float, rows: int, cols: int) -> float:
        return _ply_angle_deg([(a[::rows, ::cols], b[::rows, ::cols]) for a, b in long_threads[hand]])[0]

    assert angle_deg(1, 1, 1) > 20
    assert angle_deg(-1, 1, 1) < -20
    assert angle_deg(1, -1, 1) < -20
    assert angle_deg(1, 1, -1) < -20
    assert angle_deg(1, -1, -1) > 20


def test_a_laid_thread_keeps_its_fibre() -> None:
    """Flattening changes the section's shape and not its area."""
    half_width, half_height = laid_section_mm(samples.RED)
    assert math.pi * half_width * half_height == pytest.approx(math.pi * samples.RED.diameter_mm**2 / 4)
    assert 2 * half_width > 0.35, "a 40 wt fill at 0.4 mm rows would not close"
