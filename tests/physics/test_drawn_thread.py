"""A single thread as drawn: its twist and hand, its section."""

from __future__ import annotations

import math
from unittest.mock import patch

import numpy as np
import pytest
import samples
from numpy.typing import NDArray

from render.draw import layers, sheen
from render.draw.sheen import SheenTable
from render.draw.strands import laid_section_mm
from render.model import FibreLobes, Light

PX_PER_MM = 60.0


def _alike_from_all_sides(_lobes: FibreLobes, _light: Light) -> SheenTable:
    steps = sheen.AZIMUTH_STEPS, sheen.TILT_STEPS, sheen.ROLL_STEPS
    return SheenTable(np.full((*steps, 12), 0.5, np.float32), np.full(steps[1:], 0.5), 1.0)


@pytest.fixture(scope="module")
def long_thread() -> dict[float, tuple[NDArray[np.float64], NDArray[np.float64]]]:
    """Green light and cover of one straight stitch along x, by the hand of its twist; lit so that
    nothing but its grooves and filaments shows, since slopes and highlights shift with the light."""
    sewn = samples.sewn_of(samples.Part(samples.running((-15, 0), (15, 0), stitch_mm=30), "running"))
    window = samples.Window((0.0, 0.0), PX_PER_MM, 48, 1740)
    drawn = {}
    with patch("render.draw.layers.sheen_table", _alike_from_all_sides):
        for twist in (1.0, -1.0):
            got = samples.draw_flat(sewn, window, threads=(samples.CREAM,), twist=twist)
            drawn[twist] = got.thread_linear[..., 1].astype(float), got.covered.astype(float)
    return drawn


def _ply_angle_deg(light: NDArray[np.float64], middle: float) -> tuple[float, float]:
    """Angle of the grooves against a thread along the rows, where it is highest (row `middle`),
    positive where they go down to the right; and how many there are a mm.

    A groove is where light jumps along a row; its place shifts from row to row as the phase of
    the jumps' strongest wave does.
    """
    jumps = np.diff(light, 2, axis=1)[:, 30:-30] ** 2
    waves = (jumps - jumps.mean(1, keepdims=True)) * np.hanning(jumps.shape[1])
    spectrum = np.fft.rfft(waves, 8 * jumps.shape[1], axis=1)
    frequency = np.fft.rfftfreq(8 * jumps.shape[1], 1 / PX_PER_MM)
    rows = np.arange(round(middle) - 6, round(middle) + 6)
    power = (np.abs(spectrum[rows]) ** 2).sum(0)
    # Between one groove in 2 mm and one in 0.6 mm: neither drift nor overtones.
    k = int(np.where((frequency > 0.5) & (frequency < 1.7), power, 0).argmax())
    phase = np.unwrap(np.angle(spectrum[rows, k]))
    per_mm = np.polyfit((rows + 0.5 - middle) / PX_PER_MM, phase, 3)[-2]
    return math.degrees(math.atan(-2 * math.pi * frequency[k] / per_mm)), float(frequency[k])


def _middle(covered: NDArray[np.float64]) -> float:
    return float(covered.sum(1) @ (np.arange(len(covered)) + 0.5) / covered.sum())


# Surface helix: tan(alpha) = pi d T, d the thread's width and T its turns per length (textile
# handbooks; e.g. GATE Textile 2005, question 71).
def test_ply_angle(long_thread: dict[float, tuple[NDArray[np.float64], NDArray[np.float64]]]) -> None:
    light, covered = long_thread[1.0]
    inner = slice(60, -60)
    width_mm = covered[:, inner].sum(0).mean() / PX_PER_MM
    angle_deg, grooves_per_mm = _ply_angle_deg(light, _middle(covered))
    turns_per_mm = grooves_per_mm / 2  # two plies
    assert turns_per_mm == pytest.approx(layers.Z_TWIST_TURNS_PER_MM, rel=0.02)
    assert abs(angle_deg) == pytest.approx(math.degrees(math.atan(math.pi * width_mm * turns_per_mm)), abs=1)


# ISO 2: fibres of a Z-twisted thread held upright lie along the middle stroke of a Z, from lower
# left to upper right; lying on its side a Z is an N, whose stroke falls to the right.
def test_thread_has_z_twist_and_its_mirror_image_s(
    long_thread: dict[float, tuple[NDArray[np.float64], NDArray[np.float64]]],
) -> None:
    def angle_deg(hand: float, rows: int, cols: int) -> float:
        light, covered = (part[::rows, ::cols] for part in long_thread[hand])
        return _ply_angle_deg(light, _middle(covered))[0]

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
