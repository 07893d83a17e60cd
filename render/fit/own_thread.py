"""A thread fitted to a photographed angle wheel: the way there, its file, and its account."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from render.colour import hex_colour, to_srgb
from render.draw.again import fibre_table, glossier, laid_of, lit_as
from render.errors import InputError, UsageError
from render.fit.shine import ShineFit, fit_shine
from render.fit.wheel_photo import WheelPhoto, read_wheel, wedge_of
from render.materials.fabrics import load_fabric
from render.materials.fibres import load_fibres, shine_of
from render.materials.own_file import quoted
from render.materials.threads import SHINE, make_thread
from render.model import Window
from render.preview import sew_design
from render.scene.photo.reading import read_photo
from render.swatch.wheel import FRAME_MM, WEDGES, make_wheel
from render.words import printable

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from render.draw.sheen import SheenTable
    from render.model import Floats, Job, Light

PX_PER_MM, WHEELS = 6.0, 3
LEAST_KEY_SHARE = 0.6  # of a card's light that one lamp must give (estimate)
LOWEST_DEG, HIGHEST_DEG = 20.0, 70.0


@dataclass(frozen=True, slots=True, eq=False)
class FittedThread:
    """A fit, the photograph it was made on, and what was taken as known."""

    fit: ShineFit
    photo: WheelPhoto
    kind: str
    tex: float
    light: str


def fit_thread(
    path: str,
    job: Job,
    *,
    kind: str,
    tex: float | None,
    corners_px: Floats,
    paper_px: tuple[float, float],
    progress: Callable[[float], None] | None = None,
) -> FittedThread:
    """Fit a thread of this kind to a photograph of its angle wheel, sewn on the job's cloth and lit by the
    job's light. Raises InputError where the photograph cannot say."""
    start = make_thread((0.5, 0.5, 0.5), kind=kind, tex=tex)
    if load_fibres()[kind].emission_yield > 0.0:
        raise InputError(f"{kind} thread is brighter than a photo can hold: use the kind as it is")
    _check_light(job.light)
    photo = read_wheel(read_photo(path).srgb, corners_px, paper_px)
    job = replace(job, light=replace(job.light, white_balance=1.0), threads=(start,))
    respond = wheel_response(job, kind, tex)
    done = 0

    def counted(theta: Floats) -> Floats:
        nonlocal done
        done += 1
        if progress is not None:
            progress(1 - 0.97**done)  # how many more it takes shows only at the end
        return respond(theta)

    return FittedThread(fit_shine(photo.wedges, counted), photo, kind, start.tex, job.light.name)


def wheel_response(job: Job, kind: str, tex: float | None) -> Callable[[Floats], Floats]:
    """What gives the wedges (12, 3) of the sewn wheel, linear, for logarithms of colour and shine."""
    start = make_thread((0.5, 0.5, 0.5), kind=kind, tex=tex)
    ready = sew_design(make_wheel().design, replace(job, threads=(start,)))
    left, top, right, bottom = ready.sewn.plan.box_mm
    middle = ((left + right) / 2, (top + bottom) / 2)
    side = round((FRAME_MM - 6.0) * PX_PER_MM)
    window = Window(middle, PX_PER_MM, side, side)
    # No two sewn wheels stray alike: that of the fit is the mean of some.
    laid = [
        laid_of(ready.sewn, start, load_fibres(), replace(job, seed=seed), load_fabric, window)
        for seed in range(WHEELS)
    ]
    place = (np.arange(side) + 0.5 - side / 2) / PX_PER_MM
    wedge = wedge_of(np.stack(np.meshgrid(place, place), -1))

    @lru_cache(maxsize=4)
    def table_of(gloss_width: float, evenness: float) -> SheenTable:
        return fibre_table(shine_of(kind, 1.0, gloss_width, evenness), job.light)

    def respond(theta: Floats) -> Floats:
        gloss, gloss_width, evenness = (float(part) for part in np.exp(theta[3:]))
        fibre = shine_of(kind, gloss, gloss_width, evenness)
        table = glossier(table_of(gloss_width, evenness), gloss)
        colour = to_srgb(np.exp(theta[:3]))
        thread = replace(start, colour_srgb=(float(colour[0]), float(colour[1]), float(colour[2])))
        drawn = [lit_as(one, thread, fibre, table) for one in laid]
        light = sum(one.thread_linear + one.cloth_linear * one.cloth_share[..., None] for one in drawn)
        light = np.asarray(light) / WHEELS
        return np.array([light[wedge == number].mean(0, dtype=np.float64) for number in range(WEDGES)])

    return respond


def _check_light(light: Light) -> None:
    flat = [lamp.irradiance * np.sin(np.deg2rad(lamp.elevation_deg)) / np.pi for lamp in light.lamps]
    share = flat[0] / (sum(flat) + float(np.mean(light.dome_linear))) if flat else 0.0
    if share < LEAST_KEY_SHARE or not LOWEST_DEG <= light.lamps[0].elevation_deg <= HIGHEST_DEG:
        raise UsageError(
            f"--light {light.name}: an angle wheel tells its thread's shine only under one lamp whose place "
            f"is known, {LOWEST_DEG:.0f} to {HIGHEST_DEG:.0f} degrees high and giving most of the light: "
            "write that lamp as a light of your own (.toml)"
        )


def account_of(fitted: FittedThread) -> dict[str, Any]:
    """The fit as plain values that JSON can hold; a sigma is one standard deviation, in percent."""
    fit = fitted.fit
    colour = to_srgb(fit.colour_linear)
    return {
        "colour": hex_colour((float(colour[0]), float(colour[1]), float(colour[2]))),
        "colour_sigma_percent": [round(100 * float(s), 1) for s in fit.colour_sigma],
        "kind": fitted.kind,
        "tex": round(fitted.tex, 2),
        **{name: round(float(value), 3) for name, value in zip(SHINE, fit.shine, strict=True)},
        "shine_sigma_percent": {
            name: None if name in fit.held else round(100 * float(s), 1)
            for name, s in zip(SHINE, fit.shine_sigma, strict=True)
        },
        "hardly_shown": list(fit.held),
        "wedges_off_percent": round(100 * fit.rms, 1),
        "lamp_seems_turned_deg": round(fit.turn_deg, 1),
        "light_uneven": round(fitted.photo.uneven, 3),
        "light": fitted.light,
        "px_per_mm": round(fitted.photo.px_per_mm, 1),
    }


def thread_file(account: dict[str, Any]) -> str:
    """The thread list, of this one thread, that every command takes by --threads."""
    lines = [f"# {printable(line)}" for line in summary_of(account)]
    lines += ["", "[[thread]]", f'colour = "{account["colour"]}"', f'kind = "{account["kind"]}"']
    lines += [f'size = "{account["tex"]:g} tex"', "", "[thread.shine]"]
    for name in SHINE:
        sigma = account["shine_sigma_percent"][name]
        said = "hardly shown" if sigma is None else f"± {sigma:.0f} %"
        lines.append(f"{name} = {account[name]:g}  # {said}")
    source = f"fitted to a photograph of the angle wheel under {account['light']}"
    return "\n".join([*lines, f"source = {quoted(source)}", ""])


def summary_of(account: dict[str, Any]) -> Iterator[str]:
    """The fit in lines for people."""
    sigmas = dict(zip(("red", "green", "blue"), account["colour_sigma_percent"], strict=True))
    dark = [name for name, sigma in sigmas.items() if sigma > 100]
    sigma = max((sigma for sigma in sigmas.values() if sigma <= 100), default=100)
    yield (
        f"{account['kind']}, {account['colour']}: light of each channel ± {sigma:.0f} % (one sigma), and "
        "besides as sure as the paper is white"
    )
    if dark:
        yield f"how dark its {' and '.join(dark)} is, the shine hides"
    words = {
        "gloss": "gloss of its skin",
        "gloss_width": "width of that gloss",
        "evenness": "evenness within",
    }
    for name in SHINE:
        off = account["shine_sigma_percent"][name]
        if off is None:
            yield f"{words[name]}: hardly shown by this photo, kept near the kind's"
        else:
            yield f"{words[name]}: {account[name]:.2f} times the kind's, ± {off:.0f} % (one sigma)"
    turned = account["lamp_seems_turned_deg"]
    yield (
        f"wedges lie {account['wedges_off_percent']:.0f} % about the fit; the lamp seems to stand "
        f"{abs(turned):.0f} degrees off what was said, and the light changed "
        f"{100 * (account['light_uneven'] - 1):.0f} % across the wheel"
    )
