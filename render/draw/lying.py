"""Where places of threads lie on their strands, and how filaments lie there: many places at a time."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from render.apart import Apart
from render.columns import EIGHT, turn_between, turn_eight, turn_four
from render.compiled import njit
from render.draw.filaments import WIDE
from render.draw.place_rows import (
    ACROSS,
    ALONG,
    BATCH,
    BY_COLUMN,
    BY_ROW,
    COURSE,
    FILAMENT,
    FILAMENTS,
    GLINTS,
    GROOVE,
    HERE,
    LIGHTNESS,
    NAME,
    OF_STRAND,
    ONWARD,
    PLY,
    ROLLED,
    SKY,
    STEP,
    STRAND,
    STRAY,
    THICK,
    TILTED,
    X,
    Y,
)
from render.draw.profile import ASIDE, COLUMNS, GATHER, HALF_HEIGHT, HOLE, PHASE, SLIMNESS, TILT
from render.draw.raster import CAP
from render.draw.surface import (
    CLEAR,
    DEEP,
    DOWN,
    EDGE,
    END_TILT_DEG,
    FIRST,
    GLINT,
    HAND,
    LAST,
    NONE,
    NUMBERS,
    ONE,
    PER_PX,
    PER_SAMPLE,
    RIGHT,
    ROW,
    SLIM,
    SPARKLE,
    THREAD,
    TONE,
    WANDER,
    WHOLES,
    around_at,
    between_four,
    filaments_at,
    round_step,
    spun,
    strayed,
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
    look_up_strands(count, places, names, numbers, wholes)
    lie_along(count, places, names)
    look_up_course(count, places, names, profile)
    lie_across(count, places, names, spread)
    for j in range(count):
        k = places[ALONG + j]
        around, facing = around_at(names[STEP + j], places[ACROSS + j])
        phase = around + places[_of_course(PHASE) + j]
        hand, per_sample = places[_of_strand(HAND) + j], places[_of_strand(PER_SAMPLE) + j]
        at, p, q = filaments_at(k, around, phase, hand, per_sample, names[_whole_of_strand(ROW) + j])
        names[FILAMENT + j], places[BY_ROW + j], places[BY_COLUMN + j] = at, p, q
        places[PLY + j], places[ROLLED + j] = within_ply(phase), facing
    look_up_filaments(count, names, texture)
    for j in range(count):
        p, q = places[BY_ROW + j], places[BY_COLUMN + j]
        a, b = names[FILAMENTS + j], names[FILAMENTS + BATCH + j]
        d, e = names[FILAMENTS + 4 * BATCH + j], names[FILAMENTS + 5 * BATCH + j]
        streak, hair = between_four(a, b, d, e, p, q)
        strand = (
            places[_of_strand(HAND) + j],
            places[_of_strand(TONE) + j],
            places[_of_strand(SLIM) + j],
            places[_of_strand(DEEP) + j],
            places[_of_strand(EDGE) + j],
            places[_of_strand(WANDER) + j],
            places[_of_strand(CLEAR) + j],
            places[_of_strand(SPARKLE) + j],
            places[_of_strand(GLINT) + j],
        )
        course = (
            places[_of_course(HOLE) + j],
            places[_of_course(GATHER) + j],
            places[_of_course(TILT) + j],
        )
        askew, tilt, roll, tone, groove, glint = spun(
            places[ACROSS + j], places[ROLLED + j], places[PLY + j], streak, hair, strand, course
        )
        places[STRAY + j], places[TILTED + j], places[ROLLED + j] = askew, tilt - places[TILTED + j], roll
        places[LIGHTNESS + j], places[GROOVE + j], places[GLINTS + j] = tone, groove, glint


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _of_strand(column: int) -> Any:
    """Where a column of the numbers of the places' strands begins."""
    return STRAND + BATCH * column


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _whole_of_strand(column: int) -> Any:
    return OF_STRAND + BATCH * column


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _of_course(column: int) -> Any:
    return COURSE + BATCH * column


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def look_up_strands(count: int, places: Floats, names: Wholes, numbers: Floats, wholes: Wholes) -> None:
    """Put the numbers and whole numbers of the places' strands into columns."""
    eights = count // EIGHT * EIGHT
    for j in range(0, eights, EIGHT):
        turn_eight(numbers, names, NAME + j, NUMBERS, places, STRAND + j, BATCH)
        turn_eight(numbers[EIGHT:], names, NAME + j, NUMBERS, places, STRAND + EIGHT * BATCH + j, BATCH)
        turn_eight(wholes, names, NAME + j, WHOLES, names, OF_STRAND + j, BATCH)
    for j in range(eights, count):
        u = names[NAME + j]
        for k in range(NUMBERS):
            places[_of_strand(k) + j] = numbers[u * NUMBERS + k]
        for k in range(WHOLES):
            names[_whole_of_strand(k) + j] = wholes[u * WHOLES + k]


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def look_up_course(count: int, places: Floats, names: Wholes, profile: Floats) -> None:
    """Put the course of the places' strands there into columns."""
    eights = count // EIGHT * EIGHT
    for j in range(0, eights, EIGHT):
        turn_between(profile, names, HERE + j, COLUMNS, places, ONWARD + j, places, COURSE + j, BATCH)
    for j in range(eights, count):
        here, w = names[HERE + j] * COLUMNS, places[ONWARD + j]
        for k in range(COLUMNS):
            places[_of_course(k) + j] = (
                profile[here + k] + (profile[here + COLUMNS + k] - profile[here + k]) * w
            )


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def look_up_filaments(count: int, names: Wholes, texture: Wholes) -> None:
    """Put the filaments around each place into columns: of two rows four samples, of which two are wanted."""
    eights, below = count // EIGHT * EIGHT, texture[WIDE:]
    for j in range(0, eights, EIGHT):
        turn_four(texture, names, FILAMENT + j, 1, names, FILAMENTS + j, BATCH)
        turn_four(below, names, FILAMENT + j, 1, names, FILAMENTS + 4 * BATCH + j, BATCH)
    for j in range(eights, count):
        at = names[FILAMENT + j]
        for k in range(2):
            names[FILAMENTS + BATCH * k + j] = texture[at + k]
            names[FILAMENTS + BATCH * (4 + k) + j] = below[at + k]


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def lie_along(count: int, places: Floats, names: Wholes) -> None:
    """How far along its strand each place lies, how far to its side, and how far beyond its end; and of the
    dome's light what thread that is so clear has from its sides as well."""
    for j in range(count):
        right, down = places[_of_strand(RIGHT) + j], places[_of_strand(DOWN) + j]
        x, y, per_px = places[X + j], places[Y + j], places[_of_strand(PER_PX) + j]
        along = (x * right + y * down) * per_px
        k = min(max(along, NONE), places[_of_strand(LAST) + j])
        places[ALONG + j], places[ACROSS + j], places[TILTED + j] = (
            k,
            y * right - x * down,
            (along - k) / per_px,
        )
        names[HERE + j], places[ONWARD + j] = names[_whole_of_strand(FIRST) + j] + _i(k), k - _f(_i(k))
        open_ = min(places[SKY + j], ONE)
        places[SKY + j] = open_ + (places[SKY + j] - open_) * places[_of_strand(CLEAR) + j]


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def lie_across(count: int, places: Floats, names: Wholes, spread: Any) -> None:
    """Where in its strand's section each place lies, and how much thread is below it. The map of thread has
    spread out so much of a strand's section, from 0 for none."""
    for j in range(count):
        slim, aside = places[_of_course(SLIMNESS) + j], places[ACROSS + j] - places[_of_course(ASIDE) + j]
        v = min(max(aside * slim, _f(-0.999)), _f(0.999))
        over = min(max(places[TILTED + j] * slim * _f(1.0 / CAP), -ONE), ONE)
        places[ACROSS + j], places[TILTED + j] = v, over * abs(over) * _f(END_TILT_DEG)
        names[STEP + j] = round_step(v)
        # What is spread out is the strand's mean.
        half = places[_of_course(HALF_HEIGHT) + j]
        own = _f(2.0) * half * np.sqrt(ONE - v * v)
        mapped = own + (_f(np.pi / 2.0) * half - own) * _f(spread)
        below = max(places[THICK + j] - mapped, NONE)
        places[THICK + j] = min((own + below) * _f(PER_MM), _f(STEPS - 1.001))


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def stray(count: int, places: Floats, names: Wholes, dye: Floats, texture: Wholes) -> None:
    """Let fibres stray where any thread is fuzzy."""
    for j in range(count):
        fuzz = dye[np.uintp(names[_whole_of_strand(THREAD) + j]), 5]
        at = np.uintp(names[FILAMENT + j])
        places[STRAY + j] += strayed(at, places[BY_ROW + j], places[BY_COLUMN + j], fuzz, texture)


@njit(cache=True, nogil=True, error_model="numpy")
def wind(count: int, places: Floats, names: Wholes, numbers: Floats, wholes: Wholes, dye: Floats) -> None:
    """Wind foil where there is any."""
    for j in range(count):
        u = np.uintp(names[NAME + j])
        flake = dye[np.uintp(names[_whole_of_strand(THREAD) + j]), 4]
        if flake > NONE:
            askew, lifted, dark = wound(u, places[ALONG + j], places[ACROSS + j], numbers, wholes, flake)
            places[STRAY + j] += askew
            places[TILTED + j] += lifted
            places[GROOVE + j] *= dark
