"""Three small pieces of embroidery, drawn by the renderer and path-traced on the same centre lines.

What was traced is kept beside this file: `NAME.npz` holds the threads as they lay then (centre lines,
sections, twist), `NAME-1.png` and `NAME-2.png` the traced pictures of two seeds, in sRGB with a white card
as white. So the renderer is compared on those lines however it stacks and presses thread later.
`python -m tests.reference.scenes` stacks and traces them again, in about an hour on two idle
cores; faster with an LLVM library of its own (DRJIT_LIBLLVM_PATH).
"""

from __future__ import annotations

import sys
import time
from dataclasses import fields, replace
from functools import lru_cache
from pathlib import Path
from unittest.mock import patch

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy.ndimage import gaussian_filter

sys.path.insert(0, str(Path(__file__).parents[1]))
import samples
from reference.trace import FIBRES, PLY_AREA, PLY_AXES, Camera, Cord, Floats, filaments, trace

from render.colour import to_linear
from render.compose.encoding import encode
from render.draw.cloth import ClothLayer
from render.draw.dimples import Bedding
from render.draw.exposure import white_card_linear
from render.draw.filaments import COLS, ROWS
from render.draw.laid import thread_over_mm
from render.draw.profile import PHASE, thread_profile
from render.draw.raster import CAP
from render.draw.sheen import SheenTable, make_sheen_table
from render.draw.stack import Stack, stack_strands
from render.draw.strands import Strands, strands_of
from render.draw.tiles import draw_layers
from render.materials.fibres import load_fibres
from render.model import FibreLobes, Lamp, Light, Sewn, Thread, Window

HERE = Path(__file__).parent
PX_MM, SIDE_PX = 0.025, 112
KIND = "rayon"
# How strongly threads of those filaments scatter, Kubelka and Munk's S a mm: what a path-traced dome shows of
# patches of 0.09 to 0.57 mm of thread on black and on pale ground (`python -m tests.reference.layers`).
SCATTER = {"rayon": 6.8, "trilobal-polyester": 8.1, "matte-polyester": 15.3}
VALLEY = 0.12  # between plies, of their light: chosen by the three scenes
PRESSED = PLY_AREA / (PLY_AXES[0] * PLY_AXES[1])  # as many more filaments lie in a section that plies fill
# Traced filaments are dyed alike and lie as their twist has it: no streaks by chance, as thread in use has.
EVEN_FILAMENTS = np.zeros((ROWS, COLS, 4), np.int16)
GROUND = 0.18  # a matt grey card, as photographers use it
# A soft box at the upper left, wide enough that its light is gathered without much noise.
LIGHT = Light("soft-box", "", (Lamp(225, 47, 60, 1.8, (1, 1, 1)),), (0.5, 0.5, 0.5))
SEEDS, PASS_SAMPLES = (1, 2), 64  # paths a pixel, in passes that memory holds
PASSES = {"satin-curve": 12, "fill-20": 17, "crossing": 5}
LENS_PX = 0.6  # the softness of the lens that both are seen through: a Gaussian's deviation


def _curve() -> Sewn:
    points = samples.satin(6.0, 2.2, bend=1.2)
    return samples.sewn_of(samples.Part(samples.turned(points, 35) + np.array([0.3, -0.3]), "satin"))


def _fill() -> Sewn:
    """Sewn on another fill, so that no card shows through."""
    under, over = samples.fill(4.4, 4.4, stitch_mm=2.4), samples.fill(5.6, 3.2, stitch_mm=2.4)
    parts = [samples.turned(under, 110), samples.turned(over, 20)]
    points = np.concatenate([parts[0], [[-4.0, 4.0]], parts[1]])
    return samples.sewn_of(
        samples.Part(points[: len(under)], "fill"), samples.Part(points[len(under) + 1 :], "fill")
    )


def _crossing() -> Sewn:
    """One thread to and fro over itself; it turns outside of the picture."""
    turns_mm = [(-2.8, -0.9), (2.8, -1.3), (2.8, 0.5), (-2.8, 1.0), (-1.2, 2.8), (-0.7, -2.8)]
    turns_mm += [(1.3, -2.8), (0.7, 2.8), (-3.0, 2.8), (-3.0, -2.7), (3.0, 2.4)]
    return samples.sewn_of(samples.Part(np.array(turns_mm), "running"))


SCENES = {"satin-curve": _curve, "fill-20": _fill, "crossing": _crossing}


def laid(name: str) -> tuple[Strands, Stack]:
    """The threads of a scene as the renderer stacks them now."""
    strands = strands_of(SCENES[name](), (samples.RED,), samples.JOB)
    stack = stack_strands(strands)
    return strands, Stack(stack.height_mm, stack.section_mm, stack.first, np.zeros_like(stack.dimple_steps))


def turns(strands: Strands, stack: Stack) -> Floats:
    """Angle (M,) from the top of the thread to its first ply's middle, to the right, at each sample."""
    profile, _ = thread_profile(strands, stack, 1.0, 1.0)
    return np.asarray(-np.pi * profile[:, PHASE], np.float64)


def keep(name: str) -> None:
    """Write a scene's threads as they lie now."""
    strands, stack = laid(name)
    parts = {
        f.name: np.asarray(getattr(strands, f.name))
        for f in fields(strands)
        if getattr(strands, f.name) is not None
    }
    parts |= {name: getattr(stack, name) for name in ("height_mm", "section_mm", "first")}
    np.savez_compressed(HERE / f"{name}.npz", turn_rad=turns(strands, stack), **parts)


def kept(name: str) -> tuple[Strands, Stack, Floats]:
    """A scene's threads as they lay when it was traced, and the angle of their plies (M,)."""
    with np.load(HERE / f"{name}.npz") as file:
        parts = {key: file[key] for key in file.files}
    anchor = tuple(parts.pop("anchor_mm").tolist())
    turn = parts.pop("turn_rad")
    height, section, first = (parts.pop(key) for key in ("height_mm", "section_mm", "first"))
    strands = Strands(**parts, anchor_mm=anchor)
    return strands, lying(strands, height, section, first), turn


def lying(
    strands: Strands, height: NDArray[np.float32], section: NDArray[np.float32], first: NDArray[np.int64]
) -> Stack:
    """The stack of strands that lie so on a cloth that does not give way, nor has pits at its holes."""
    flat, over_mm = np.zeros((3, 3), np.int16), thread_over_mm(strands, section, first)
    return Stack(height, section, first, flat, Bedding(0.0), over_mm)


def without(strands: Strands, stack: Stack, gone: int) -> tuple[Strands, Stack]:
    """The scene without one of its stitches; the others stay as they lie."""
    own = np.arange(len(strands.start_mm)) != gone
    parts = {
        f.name: np.asarray(getattr(strands, f.name))
        for f in fields(strands)
        if getattr(strands, f.name) is not None
    }
    anchor = strands.anchor_mm
    del parts["anchor_mm"]
    rows = np.repeat(own, np.diff(stack.first))
    first = np.concatenate([[0], np.cumsum(np.diff(stack.first)[own])])
    left = Strands(**{key: value[own] for key, value in parts.items() if value.ndim}, anchor_mm=anchor)
    return left, lying(left, stack.height_mm[rows], stack.section_mm[rows], first)


def cords(strands: Strands, stack: Stack, turn_rad: Floats) -> list[Cord]:
    """The same threads for the path tracer."""
    out = []
    for i in range(len(strands.start_mm)):
        own = slice(int(stack.first[i]), int(stack.first[i + 1]))
        left, right, high = stack.section_mm[own].astype(np.float64).T
        run = strands.end_mm[i] - strands.start_mm[i]
        along = np.array([*run, 0.0]) / np.hypot(*run)
        side = np.array([-along[1], along[0], 0.0])
        share = np.linspace(0.0, 1.0, len(high))[:, None]
        middle = np.column_stack([strands.start_mm[i] + strands.anchor_mm + share * run, np.zeros(len(high))])
        middle += side * ((right - left) / 2)[:, None]
        middle[:, 2] = stack.height_mm[own] + high
        line = np.column_stack([middle, (left + right) / 2, high, turn_rad[own]])
        line = np.concatenate([_down(line[0], -along)[::-1], line, _down(line[-1], along)])
        out.append(Cord(line[:, :3], *line[:, 3:].T, pressed=True, right=side))
    return out


def filled(strands: Strands, stack: Stack, turn_rad: Floats) -> Stack:
    """The threads as wide and as high as their traced filaments reach at each sample: two plies side by side
    are wide, one above the other narrow and high, and splines cut the corners of their control points."""
    height, section = stack.height_mm.copy(), stack.section_mm.copy()
    for i, cord in enumerate(cords(strands, stack, turn_rad)):
        own = slice(int(stack.first[i]), int(stack.first[i + 1]))
        lines, radius = filaments(cord, FIBRES[KIND].counter_twist)
        lines[:, 1:-1] = (lines[:, :-2] + 4.0 * lines[:, 1:-1] + lines[:, 2:]) / 6.0
        ways_down = (lines.shape[1] - (own.stop - own.start)) // 2
        lines, radius = lines[:, ways_down:-ways_down], radius[ways_down:-ways_down]
        right = (lines[..., :2] - strands.start_mm[i] - strands.anchor_mm) @ cord.right[:2]
        top, low = (lines[..., 2] + radius).max(0), (lines[..., 2] - radius).min(0)
        section[own] = np.stack([(radius - right).max(0), (right + radius).max(0), (top - low) / 2], 1)
        height[own] = low
    return lying(strands, height, section, stack.first)


def _down(end: Floats, onwards: Floats) -> Floats:
    """A thread's way on into its hole: its outer side turns down within the length of the drawn round end."""
    half, high = end[3], end[4]
    bend = max(CAP * half - high, 0.01)
    angle = np.linspace(0.0, np.pi / 2, 5)[1:]
    line = np.tile(end, (len(angle) + 2, 1))
    line[:4, :3] += np.outer(bend * np.sin(angle), onwards)
    line[:4, 2] -= bend * (1.0 - np.cos(angle))
    line[4:, :3] += bend * onwards
    line[4:, 2] -= bend + np.array([0.1, 0.2])
    return line


def traced(threads: list[Cord], *, samples_n: int, seed: int) -> Floats:
    """Linear picture (rows, cols, 3) by the path tracer, white card = 1."""
    lamps = [(p.azimuth_deg, p.elevation_deg, p.size_deg, p.irradiance) for p in LIGHT.lamps]
    radiance = trace(
        threads,
        fibre=FIBRES[KIND],
        lamps=lamps,
        dome=LIGHT.dome_linear[0],
        camera=Camera((0.0, 0.0), PX_MM * SIDE_PX, SIDE_PX, SIDE_PX),
        samples=samples_n,
        seed=seed,
        ground=(GROUND,) * 3,
    )
    return np.asarray(radiance / white_card_linear(LIGHT))


def light_of(picture: NDArray[np.uint8]) -> Floats:
    """Linear light of a kept picture, its highlights as the shoulder left them."""
    return np.asarray(to_linear(picture / 255.0), np.float64)


@lru_cache
def _table(fibre: FibreLobes, light: Light) -> SheenTable:
    with patch("render.draw.sheen.BELOW_LINEAR", 0.0):
        return make_sheen_table(fibre, light)


def traced_fibres(filling: float = 1.0) -> dict[str, FibreLobes]:
    """The kinds of thread, their filaments as clear, round and close as traced: thread in use is less so."""
    fibres, traced = load_fibres(), {"sparkle": 0.0, "valley": VALLEY, "valley_alone": VALLEY}
    return {k: replace(fibres[k], scatter_per_mm=filling * SCATTER[k], **traced) for k in SCATTER}


def drawn(strands: Strands, stack: Stack, albedo: tuple[float, float, float]) -> Floats:
    """Linear picture (rows, cols, 3) by the renderer, for a dye of that albedo."""

    def card(
        _ground: object, _window: object, rect: tuple[int, int, int, int], _wanted: object
    ) -> ClothLayer:
        return ClothLayer(np.full((*rect[2:], 3), GROUND, np.float32), np.zeros(rect[2:], np.float32))

    dye = np.array([[*albedo, 1.0, 0.0, 0.0]], np.float32)
    thread = Thread((0.5, 0.5, 0.5), KIND, 26.7, 1.49, 0.65)
    with (
        patch("render.draw.shading.dyes_of", lambda *_: dye),
        # As for the sheen curves: the card is dark where thread lies on it.
        patch("render.draw.shading.sheen_table", _table),
        patch("render.draw.shading.cached_filaments", lambda _: EVEN_FILAMENTS),
        patch("render.draw.layers.lay_ground", card),
    ):
        layers = draw_layers(
            strands,
            stack,
            samples.level_ground(np.full(3, GROUND)),
            threads=(thread,),
            lobes=traced_fibres(PRESSED),
            light=LIGHT,
            window=Window((0.0, 0.0), 1 / PX_MM, SIDE_PX, SIDE_PX),
        )
    return np.asarray(layers.thread_linear + layers.cloth_linear * layers.cloth_share[..., None], np.float64)


def seen(picture: Floats) -> NDArray[np.uint8]:
    """A linear picture as the lens and the screen show it."""
    return encode(gaussian_filter(picture, (LENS_PX, LENS_PX, 0)).astype(np.float32))


def gathered(threads: list[Cord], seed: int, passes: int) -> Floats:
    """The mean of all passes of a seed."""
    seeds = 1000 * seed + PASS_SAMPLES * np.arange(passes)
    return np.mean([traced(threads, samples_n=PASS_SAMPLES, seed=int(one)) for one in seeds], axis=0)


def main() -> None:
    for name in SCENES:
        keep(name)
        threads = cords(*kept(name))
        for seed in SEEDS:
            begun = time.perf_counter()
            picture = seen(gathered(threads, seed, PASSES[name]))
            Image.fromarray(picture).save(HERE / f"{name}-{seed}.png", optimize=True)
            print(name, seed, f"{time.perf_counter() - begun:.0f} s", file=sys.stderr, flush=True)


if __name__ == "__main__":
    main()
