"""Profiles, filaments and the shade of a pixel against their slow, plain twins, on small scenes."""

from __future__ import annotations

from functools import cache
from types import SimpleNamespace

import naive
import numpy as np
import pytest
import samples
from numpy.typing import NDArray
from scipy.interpolate import RegularGridInterpolator

from render.draw import (
    dye,
    filaments,
    lobes,
    profile,
    raster,
    shade,
    shading,
    shadow,
    sheen,
    stack,
    strand_numbers,
    strands,
    surface,
    thickness,
)
from render.materials.fibres import load_fibres

FIBRES = load_fibres()
AGAIN = dye.AGAIN
SPARKLE, SCATTER = 0.8, 9.0
VALLEY, ALONE = 0.3, 0.6
texture_of = cache(filaments.filaments)


@pytest.mark.parametrize("twist", [1.0, -1.0])
def test_profiles_match(crossing: strands.Strands, twist: float) -> None:
    stacked = stack.stack_strands(crossing)
    got, half_width_px = profile.thread_profile(crossing, stacked, 23.0, twist)
    length = np.hypot(*(crossing.end_mm - crossing.start_mm).T)
    among = profile.HOLE_DARK + profile.PIT_DARK
    alone = profile.HOLE_DARK + profile.LINE_DARK
    for i in range(len(length)):
        own = slice(stacked.first[i], stacked.first[i + 1])
        expected = naive.profile(
            length_mm=length[i],
            along_mm=crossing.along_mm[i],
            dives=crossing.dives[i],
            word=int(crossing.grain[i]),
            samples=stacked.height_mm[own].astype(float),
            section=stacked.section_mm[own].astype(float),
            px_per_mm=23.0,
            twist=twist * samples.RED.twist_per_m / 1000,
            hole=(alone, among, profile.LINE_HOLE_MM)
            if crossing.piece[i] < 0 <= crossing.stitch[i]
            else (among, among, profile.HOLE_MM),
            c=profile,
        )
        turns = expected[:, profile.PHASE] - got[own, profile.PHASE]
        assert turns - round(turns[0]) == pytest.approx(0, abs=1e-5)
        others = [k for k in range(profile.COLUMNS) if k != profile.PHASE]
        assert got[own, others] == pytest.approx(expected[:, others], abs=2e-4)
        assert half_width_px[i] == pytest.approx(23.0 * stacked.section_mm[own, :2].max())
    assert np.ptp(got[:, profile.TILT]) > 20
    assert got[:, profile.HOLE].min() < 0.95


@pytest.mark.parametrize("sparkle", [0.0, 0.8])
def test_glints_have_the_mean_that_they_are_divided_by(sparkle: float) -> None:
    texture = texture_of(90.0)
    expected = naive.mean_glint(texture[..., :2] * filaments.UNIT, sparkle, surface)
    assert surface.mean_glint(texture, sparkle) == pytest.approx(expected, rel=0.01)


@pytest.mark.parametrize("sub_px_per_mm", [20.0, 40.0, 90.0])
def test_filaments_match_and_repeat(sub_px_per_mm: float) -> None:
    texture = texture_of(sub_px_per_mm)
    rng = np.random.default_rng(12)
    for row, col in zip(
        rng.integers(0, filaments.ROWS, 80), rng.integers(0, filaments.COLS, 80), strict=True
    ):
        expected = naive.filaments(int(row), int(col), sub_px_per_mm, filaments)
        got = texture[row, col, :3] * filaments.UNIT
        assert got == pytest.approx(expected, abs=1.1 * filaments.UNIT)
    # The noise is smooth, also from the last row to the first.
    steps = np.abs(np.diff(texture.astype(int), axis=0, append=texture[:1]))[..., 0]
    assert steps[-1].max() <= steps[:-1].max() < 4000
    assert texture[..., 0].std() > 3000


@pytest.mark.parametrize(
    ("kind", "twist", "sub", "neutral"),
    [
        ("rayon", 0.55, 2, False),
        ("metallic", 0.55, 2, False),
        ("cotton", -0.55, 2, True),
        ("rayon", 0.55, 4, True),
    ],
)
def test_shade_matches(kind: str, twist: float, sub: int, neutral: bool) -> None:
    """Strands laid at random, in a picture in which they show at random, in light with colours or without."""
    rng = np.random.default_rng(8)
    rows, cols, count = 20 // sub, 24 // sub, 4
    size = (rows * sub, cols * sub)
    strand = rng.integers(-1, count, size).astype(np.int32)  # few, so that many make runs
    height = rng.random(size, np.float32)
    blocks = (2, size[0] // 2, size[1] // 2)
    lit, sky = rng.random(blocks, np.float32), rng.uniform(0.2, 1.5, blocks).astype(np.float32)
    start = rng.uniform(-5, 5, (count, 2))
    way = rng.uniform(0, 2 * np.pi, count)
    run = np.stack([np.cos(way), np.sin(way), np.full(count, 40.0)], 1)
    first = np.cumsum([0, 5, 9, 3, 20])
    course = rng.random((first[-1], profile.COLUMNS), np.float32)
    course[:, profile.SLIMNESS] = rng.uniform(0.02, 0.03, first[-1])
    course[:, profile.TILT] = rng.uniform(-70, 70, first[-1])
    length, before = rng.uniform(2, 9, count), rng.uniform(0, 500, count)
    thread, words = np.array([0, 1, 1, 0]), rng.integers(0, 2**32, count).astype(np.uint32)
    # Laid in the picture as they lie on the cloth, so that the azimuths are those of the runs.
    laid = SimpleNamespace(
        start_mm=np.zeros((count, 2)),
        end_mm=run[:, :2] * length[:, None],
        grain=words,
        along_mm=before,
        thread=thread,
        twist_per_mm=np.full(count, twist),
        half_width_mm=rng.uniform(0.1, 0.2, count),
        half_height_mm=rng.uniform(0.04, 0.1, count),
        piece=np.array([-1, 0, 0, -1]),
    )
    laid.laid_ends_mm = lambda: (laid.start_mm, laid.end_mm)
    texture = texture_of(90.0)
    in_pixels = SimpleNamespace(first=first, run=run, px_per_mm=30.0)
    glint = surface.mean_glint(texture, SPARKLE)
    of_threads = np.array(2 * [[0.0, VALLEY, ALONE, SPARKLE, 1 / glint, SCATTER]])
    numbers, wholes = strand_numbers.strand_numbers(laid, in_pixels, 1.0, of_threads)
    fibre = FIBRES[kind]
    table = rng.random((2, 72, sheen.TILT_STEPS, sheen.ROLL_STEPS, sheen.COLUMNS), np.float32)
    key_linear = np.array([1.2, 1.0, 0.8])
    for at in (0, 6):  # the key lamp has one colour
        table[..., at : at + 3] = table[..., at : at + 1] * key_linear
        if neutral:
            table[..., at + 3 : at + 6] = table[..., at + 3 : at + 4]
    packed = shading.packed_sheen([SimpleNamespace(values=t) for t in table])
    dye = np.concatenate([rng.random((2, 4)), np.full((2, 2), [fibre.flake, fibre.fuzz])], 1)
    kinds, key_share, walls = np.array([1, 0], np.int32), 0.6, 0.4
    spread = 0.3  # of a strand's section by the map of thread
    thick = rng.uniform(0, 0.7, (rows, cols)).astype(np.float32)
    shown = rng.random((2, thickness.STEPS, 3), np.float32)
    corner = np.array([-size[0] / 2 + 0.5, -size[1] / 2 + 0.5])
    light = np.empty((rows, cols, 3), np.float32)
    share, covered = np.empty((rows, cols), np.float32), np.empty((rows, cols), np.float32)
    told, unseen = np.empty(blocks[1:], np.int32), np.zeros((rows, cols), np.bool_)
    stands = np.empty((4, *blocks[1:]), np.int16)
    flat, level = np.zeros((3, 3), np.float32), np.zeros((rows, cols), np.float32)
    shadow.merge_blocks(height, strand, level, unseen, flat, np.zeros(3), sub, stands, told)
    shade.shade(
        strand, told, lit, sky, thick, start, numbers, wholes, course, dye.astype(np.float32),
        packed, kinds, shown, filaments.packed_filaments(texture),
        np.array([*corner, key_share, *key_linear, walls, spread]), sub, 0,
        light, share, covered,
    )  # fmt: skip

    look_ups = [_look_up(t) for t in table]
    across, down = naive.looked_at(*size, raster.ASKEW_PX)
    radiance, open_light = np.zeros((*size, 3)), np.zeros(size)
    for parts in naive.block_runs(strand):
        i = strand[parts[0]]
        at = tuple(list(part) for part in zip(*parts, strict=True))
        block = (parts[0][0] // 2, parts[0][1] // 2)
        whole = height[2 * block[0] : 2 * block[0] + 2, 2 * block[1] : 2 * block[1] + 2]
        lower = int(height[at].max() < whole.max())
        key, open_sky = float(lit[lower, *block]), float(sky[lower, *block])
        if i < 0:
            by_lamp, around = naive.bounced(key, min(open_sky, 1.0), walls)
            open_light[at] = key_share * by_lamp + (1 - key_share) * around
            continue
        y, x = np.array([down[at].mean(), across[at].mean()]) + corner - start[i, ::-1]
        along = (x * run[i, 0] + y * run[i, 1]) / 40
        place = float(np.clip(along, 0, 1))
        own = course[first[i] : first[i + 1]].astype(float)
        places = np.linspace(0, 1, len(own))
        aside = np.interp(place, places, own[:, profile.ASIDE])
        slimness = np.interp(place, places, own[:, profile.SLIMNESS])
        radiance[at] = naive.thread_radiance(
            place=place,
            across=float((y * run[i, 0] - x * run[i, 1] - aside) * slimness),
            over=float(np.clip((along - place) * 40 * slimness / raster.CAP, -1, 1)),
            pixel_mm=2 / 30,
            half_width_mm=laid.half_width_mm[i],
            lit=key,
            sky=open_sky,
            length_mm=length[i],
            along_mm=before[i],
            twist=twist,
            azimuth_steps=int(wholes[i, surface.AZIMUTH]),
            word=int(words[i]),
            first_row=int(wholes[i, surface.ROW]),
            profile=own,
            dye=dye[thread[i]],
            table=look_ups[kinds[thread[i]]],
            shown=_shown(shown[thread[i]], float(thick[parts[0][0] // sub, parts[0][1] // sub]), spread),
            texture=texture[..., :3] * filaments.UNIT,
            sparkle=SPARKLE,
            clear=1 / (1 + SCATTER * np.pi / 2 * laid.half_height_mm[i]),
            mean_glint=glint,
            valley_depth=ALONE if laid.piece[i] < 0 else VALLEY,
            constants=SimpleNamespace(AGAIN=AGAIN, **{**vars(profile), **vars(filaments), **vars(surface)}),
        )

    def averaged(values: NDArray[np.float64]) -> NDArray[np.float64]:
        return values.reshape(rows, sub, cols, sub, -1).mean((1, 3))

    assert light == pytest.approx(averaged(radiance), rel=3e-3, abs=2e-4)
    assert covered == pytest.approx(averaged(strand >= 0)[..., 0], abs=1e-6)
    assert share == pytest.approx(averaged(open_light)[..., 0], abs=1e-5)


def _shown(shown: NDArray[np.float32], around_mm: float, spread: float):  # type: ignore[no-untyped-def]
    """What shows of a thread by its own chord and by what is known to lie there beyond it, of which the map
    has spread so much to its mean."""
    at_mm = np.arange(thickness.STEPS) / thickness.PER_MM

    def look_up(chord_mm: float, usual_mm: float) -> NDArray[np.float64]:
        mapped = chord_mm + spread * (usual_mm - chord_mm)
        deep = chord_mm + max(around_mm - mapped, 0.0)
        return np.array([np.interp(deep, at_mm, column) for column in shown.T])

    return look_up


def test_dye_leaves_what_the_power_says() -> None:
    rng = np.random.default_rng(9)
    albedo = np.exp(-(rng.uniform(0, 46, (20, 3)) ** 1.2)).astype(np.float32)
    albedo[0] = 1.3, 1.0, 0.0
    logs, lift = dye.dye_powers(albedo)
    assert (logs.ravel()[:2] == 0).all()
    for depth in (0.2, 1.0, 4.7):
        for log, more, one in zip(logs.ravel(), lift.ravel(), albedo.ravel(), strict=True):
            left = float(more * dye.dye_left(log, np.float32(depth)))
            assert left == pytest.approx(lobes.dyed(float(one), depth), rel=2e-5, abs=1e-6)


def _look_up(table: NDArray[np.float32]):  # type: ignore[no-untyped-def]
    """The sheen table as a function of degrees, linear in between, azimuth going round."""
    axes = (
        np.arange(73) * 5.0,
        np.linspace(-sheen.TILT_LIMIT_DEG, sheen.TILT_LIMIT_DEG, sheen.TILT_STEPS),
        np.linspace(-sheen.ROLL_LIMIT_DEG, sheen.ROLL_LIMIT_DEG, sheen.ROLL_STEPS),
    )
    round_trip = np.concatenate([table, table[:1]]).astype(float)
    between = RegularGridInterpolator(axes, round_trip)

    def look_up(azimuth_deg: float, tilt_deg: float, roll_deg: float) -> NDArray[np.float64]:
        tilt = np.clip(tilt_deg, axes[1][0], axes[1][-1])
        roll = np.clip(roll_deg, axes[2][0], axes[2][-1])
        return np.asarray(between([[azimuth_deg % 360, tilt, roll]])[0])

    return look_up
