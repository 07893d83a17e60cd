"""Where places of threads lie on their strands, and how filaments lie there: many places at a time."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from render.apart import Apart
from render.compiled import njit
from render.draw.place_rows import (
    ACROSS,
    ALONG,
    BY_COLUMN,
    BY_ROW,
    FILAMENT,
    GLINTS,
    GROOVE,
    HERE,
    LIGHTNESS,
    NAME,
    PLY,
    ROLLED,
    SKY,
    STEP,
    STRAY,
    THICK,
    TILTED,
    X,
    Y,
)
from render.draw.profile import ASIDE, HALF_HEIGHT, PHASE, SLIMNESS, course_at
from render.draw.raster import CAP
from render.draw.surface import (
    CLEAR,
    DOWN,
    END_TILT_DEG,
    FIRST,
    LAST,
    NONE,
    ONE,
    PER_PX,
    RIGHT,
    THREAD,
    around_at,
    filaments_at,
    number_of,
    round_step,
    spun,
    strayed,
    whole_of,
    within_ply,
    wound,
)
from render.draw.thickness import PER_MM, STEPS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float32]
    Wholes = NDArray[np.int32]

_f = np.float32
_i = np.int32


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def lie(
    count: int,
    places: Floats,
    names: Wholes,
    numbers: Floats,
    wholes: Wholes,
    profile: Floats,
    texture: Wholes,
    spread: Any,
) -> None:
    """Where on its strand each place lies, and how filaments lie there; `spread` is as for `lie_across`.

    Where to look next is worked out in a loop of its own each time: in one the compiler would work it out for
    one place at a time.
    """
    lie_along(count, places, names, numbers, wholes)
    lie_across(count, places, names, profile, spread)
    for j in range(count):
        u, here, k = np.uintp(names[NAME + j]), np.uintp(names[HERE + j]), places[ALONG + j]
        around, facing = around_at(names[STEP + j], places[ACROSS + j])
        phase = around + course_at(profile, here, k - _f(_i(k)), PHASE)
        at, p, q = filaments_at(u, k, around, phase, numbers, wholes)
        names[FILAMENT + j], places[BY_ROW + j], places[BY_COLUMN + j] = at, p, q
        places[PLY + j], places[ROLLED + j] = within_ply(phase), facing
    for j in range(count):
        u, here, k = np.uintp(names[NAME + j]), np.uintp(names[HERE + j]), places[ALONG + j]
        at, p, q = np.uintp(names[FILAMENT + j]), places[BY_ROW + j], places[BY_COLUMN + j]
        v, facing, ply, w = places[ACROSS + j], places[ROLLED + j], places[PLY + j], k - _f(_i(k))
        askew, tilt, roll, tone, groove, glint = spun(
            u, v, w, here, facing, ply, at, p, q, numbers, profile, texture
        )
        places[STRAY + j], places[TILTED + j], places[ROLLED + j] = askew, tilt - places[TILTED + j], roll
        places[LIGHTNESS + j], places[GROOVE + j], places[GLINTS + j] = tone, groove, glint


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def lie_along(count: int, places: Floats, names: Wholes, numbers: Floats, wholes: Wholes) -> None:
    """How far along its strand each place lies, how far to its side, and how far beyond its end; and of the
    dome's light what thread that is so clear has from its sides as well."""
    for j in range(count):
        u = np.uintp(names[NAME + j])
        right, down = number_of(numbers, u, RIGHT), number_of(numbers, u, DOWN)
        x, y, per_px = places[X + j], places[Y + j], number_of(numbers, u, PER_PX)
        along = (x * right + y * down) * per_px
        k = min(max(along, NONE), number_of(numbers, u, LAST))
        places[ALONG + j], places[ACROSS + j], places[TILTED + j] = (
            k,
            y * right - x * down,
            (along - k) / per_px,
        )
        names[HERE + j] = whole_of(wholes, u, FIRST) + _i(k)
        open_ = min(places[SKY + j], ONE)
        places[SKY + j] = open_ + (places[SKY + j] - open_) * number_of(numbers, u, CLEAR)


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def lie_across(count: int, places: Floats, names: Wholes, profile: Floats, spread: Any) -> None:
    """Where in its strand's section each place lies, and how much thread is below it. The map of thread has
    spread out so much of a strand's section, from 0 for none."""
    for j in range(count):
        here, w = np.uintp(names[HERE + j]), places[ALONG + j] - _f(_i(places[ALONG + j]))
        slim, aside = (
            course_at(profile, here, w, SLIMNESS),
            places[ACROSS + j] - course_at(profile, here, w, ASIDE),
        )
        v = min(max(aside * slim, _f(-0.999)), _f(0.999))
        over = min(max(places[TILTED + j] * slim * _f(1.0 / CAP), -ONE), ONE)
        places[ACROSS + j], places[TILTED + j] = v, over * abs(over) * _f(END_TILT_DEG)
        names[STEP + j] = round_step(v)
        # What is spread out is the strand's mean.
        half = course_at(profile, here, w, HALF_HEIGHT)
        own = _f(2.0) * half * np.sqrt(ONE - v * v)
        mapped = own + (_f(np.pi / 2.0) * half - own) * _f(spread)
        below = max(places[THICK + j] - mapped, NONE)
        places[THICK + j] = min((own + below) * _f(PER_MM), _f(STEPS - 1.001))


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def stray(count: int, places: Floats, names: Wholes, wholes: Wholes, dye: Floats, texture: Wholes) -> None:
    """Let fibres stray where any thread is fuzzy."""
    for j in range(count):
        fuzz = dye[np.uintp(whole_of(wholes, np.uintp(names[NAME + j]), THREAD)), 5]
        at = np.uintp(names[FILAMENT + j])
        places[STRAY + j] += strayed(at, places[BY_ROW + j], places[BY_COLUMN + j], fuzz, texture)


@njit(cache=True, nogil=True, error_model="numpy")
def wind(count: int, places: Floats, names: Wholes, numbers: Floats, wholes: Wholes, dye: Floats) -> None:
    """Wind foil where there is any."""
    for j in range(count):
        u = np.uintp(names[NAME + j])
        flake = dye[np.uintp(whole_of(wholes, u, THREAD)), 4]
        if flake > NONE:
            askew, lifted, dark = wound(u, places[ALONG + j], places[ACROSS + j], numbers, wholes, flake)
            places[STRAY + j] += askew
            places[TILTED + j] += lifted
            places[GROOVE + j] *= dark
