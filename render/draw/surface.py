"""How the filaments of a thread lie at a place of it: what light on thread is looked up by.

Numbers are single precision, no path branches and tables are read as one long row of numbers with rows
of a known length: so the compiler takes many places at a time.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from render.compiled import njit
from render.draw.filaments import COLS, PAIR, ROWS, UNIT, WIDE
from render.draw.grain import noise1, noise2
from render.draw.profile import GATHER, HOLE, PHASE, TILT, course_at
from render.draw.sheen import AZIMUTH_STEPS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float32]
    Wholes = NDArray[np.int32]

AZIMUTH_BITS = 8  # azimuths are whole numbers of 5/256 degree, so quarter turns are exact
AZIMUTH_UNIT = 1 << AZIMUTH_BITS
FULL_TURN = AZIMUTH_STEPS * AZIMUTH_UNIT
# How far a ply's roundness turns the surface.
PLY_ROLL_DEG = 11.0
# The valley between two plies: half its width as a share of half a ply's, and by what share it is deeper
# where plies lie close (estimates).
VALLEY_WIDE, VALLEY_UNEVEN = 0.13, 0.35
LEAST_GLINT = -0.9  # of single filaments and of valleys, before it is sharpened
EVERY, GOLDEN = 4, 0.5 * (5**0.5 - 1.0)  # rows of filaments from one that is looked at to the next; odd
# Of how unlike each other single filaments glint, how unlike bundles do that sparkle fully (by eye, on red).
BUNDLE_GLINT = 0.55
CROWN = 0.15  # by how much more the crown of a ply shines than the ply does in the mean (estimate)
TOP_ROUND = 0.28  # of a round thread's, the turn of a flattened one's top across it (as path-traced)
# Light that goes through thread comes out elsewhere than it went in, and knows less of how the surface is
# turned there: so much less where all of it goes through (chosen by the traced scenes).
TURN_LOST = 0.4
# Filaments turn back within their ply, so they follow this share of its turns about the thread: what the path
# tracer's filaments on the outside do.
FOLLOW = 0.3
PLY_ROWS = 181  # from a ply's filaments in their picture to those of the next
# By place across a thread, in steps from its middle: the angle around it in half-turns, and how
# many degrees its flattened top turns its surface.
ROUND_STEPS = 1024
_V = np.minimum(np.arange(ROUND_STEPS + 2) / ROUND_STEPS, 0.999)
ROUND = np.stack([np.arcsin(_V) / np.pi, np.rad2deg(np.arctan(TOP_ROUND * _V / np.sqrt(1 - _V * _V)))], 1)
ROUND = ROUND.astype(np.float32)
# Turns of the foil of metallic thread, by how many they run ahead and behind over a millimetre (estimates).
WOUND_PER_MM, WOUND_WANDER = 2.6, 0.4
# Darkening towards a thread's sides beyond that they are thin: as path-traced threads of tests/reference show
# it, drawn with what lies there and with the shadows they have; and the deeper valleys are between its plies,
# the more by so much of them, from its middle on, as far as pixels of 300 dpi can show it (by eye).
EDGE_DARK, EDGE_VALLEY = 0.17, 0.27
# Of the turn of filaments about the thread: on its top they run askew, more in the middle than at the sides,
# and they climb on one side and sink on the other (as those that are path-traced lie).
ASKEW, ASKEW_SIDES, CLIMB = 1.43, 1.29, 0.45
END_TILT_DEG = (
    14.0  # by how much the round end beyond the middle of the hole bends down at its tip (estimate)
)
STREAK_TONE, HAIR_TONE = 0.05, 0.14  # by how much streaks and single filaments are lighter or darker
RISE_DEG = 1.5  # by how much filaments of a streak rise or fall (estimate)
# Columns of the numbers of a strand: its direction, samples of its profile a pixel, the last of them, rows
# of the filaments a sample, its own tone and wander in degrees, hand, mm a sample, mm before it, how slim
# and how deep the valleys between its plies are seen, one over the mean of its glints, how much they sparkle,
# by how much its sides are darker, and how much of the light goes through it.
RIGHT, DOWN, PER_PX, LAST, PER_SAMPLE, TONE, WANDER, HAND, MM, BEFORE, SLIM, DEEP = range(12)
GLINT, SPARKLE, EDGE, CLEAR = range(12, 16)
NUMBERS = 16
# And of its whole numbers: first sample, azimuth, first row of the filaments, thread, random word.
FIRST, AZIMUTH, ROW, THREAD, WORD = range(5)
WHOLES = 8
ONE, NONE = np.float32(1.0), np.float32(0.0)
_f = np.float32


@njit(cache=True, nogil=True, error_model="numpy")
def thread_surface(
    u: Any,
    k: Any,
    v: Any,
    numbers: Floats,
    wholes: Wholes,
    profile: Floats,
    flake: Any,
    fuzz: Any,
    texture: Wholes,
) -> tuple[Any, Any, Any, Any, Any, Any]:
    """How the filaments of strand u lie at sample `k` along and `v` across it.

    `numbers`, `wholes` and `profile` of all strands and the packed filaments are flat. Gives the azimuth in
    1/256 table steps, tilt and roll in degrees; lightness of the streak, of the grooves between plies and
    of the sides, and how much more or less than usual its skin shines.
    """
    around, facing = around_at(round_step(v), v)
    whole = np.int32(k)
    w, here = k - _f(whole), np.uintp(whole_of(wholes, u, FIRST) + whole)
    phase = around + course_at(profile, here, w, PHASE)
    hand, row = number_of(numbers, u, HAND), whole_of(wholes, u, ROW)
    at, p, q = filaments_at(k, around, phase, hand, number_of(numbers, u, PER_SAMPLE), row)
    at = np.uintp(at)
    ply = within_ply(phase)
    strand = (
        hand,
        number_of(numbers, u, TONE),
        number_of(numbers, u, SLIM),
        number_of(numbers, u, DEEP),
        number_of(numbers, u, EDGE),
        number_of(numbers, u, WANDER),
        number_of(numbers, u, CLEAR),
        number_of(numbers, u, SPARKLE),
        number_of(numbers, u, GLINT),
    )
    course = (
        course_at(profile, here, w, HOLE),
        course_at(profile, here, w, GATHER),
        course_at(profile, here, w, TILT),
    )
    stray, tilt, roll, tone, groove, glint = spun(
        v, facing, ply, *_between(texture, at, p, q), strand, course
    )
    if fuzz > NONE:
        stray += strayed(at, p, q, fuzz, texture)
    if flake > NONE:
        askew, lifted, dark = wound(u, k, v, numbers, wholes, flake)
        stray, tilt, groove = stray + askew, tilt + lifted, groove * dark
    azimuth = whole_of(wholes, u, AZIMUTH) + turned_by(number_of(numbers, u, HAND) * stray)
    return azimuth, tilt, roll, tone, groove, glint


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def number_of(numbers: Floats, u: Any, column: int) -> Any:
    """A column of the numbers of strand u."""
    return numbers[u * np.uintp(NUMBERS) + np.uintp(column)]


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def whole_of(wholes: Wholes, u: Any, column: int) -> Any:
    """A column of the whole numbers of strand u."""
    return wholes[u * np.uintp(WHOLES) + np.uintp(column)]


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def turned_by(degrees: Any) -> Any:
    """An angle in steps of azimuth."""
    return np.int32(np.rint(degrees * _f(AZIMUTH_UNIT / 5.0)))


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def spun(
    v: Any,
    facing: Any,
    ply: Any,
    streak: Any,
    hair: Any,
    strand: tuple[Any, Any, Any, Any, Any, Any, Any, Any, Any],
    course: tuple[Any, Any, Any],
) -> tuple[Any, Any, Any, Any, Any, Any]:
    """As `thread_surface` of thread without foil and stray fibres, but first the degrees by which filaments
    stray from it. `facing` is of `around_at`, `ply` of `within_ply`, `streak` and `hair` are of the
    filaments there; the numbers are those of the strand and of its course at the place."""
    hand, tone, slim, deep, darker, askew, clear, sparkle, glint = strand
    hole, gather, rises = course
    edge = ply * ply
    square = v * v
    tone = ONE + _f(STREAK_TONE) * streak + _f(HAIR_TONE) * hair + tone
    # Plies lie closer here and less close there.
    valley = (ONE - abs(ply)) * slim
    valley = ONE / (ONE + valley * valley)
    deep *= ONE + _f(VALLEY_UNEVEN) * streak
    groove = ONE - deep * valley * valley * (ONE - _f(0.6) * square)
    groove *= ONE - (_f(EDGE_DARK) * square + darker) * square
    groove *= hole
    # Tangent: azimuth of the strand, small wander of filaments, tilt from its height.
    stray = _f(4.0) * streak + _f(6.0) * hair
    stray += askew * (_f(ASKEW) - _f(ASKEW_SIDES) * square) + hand * v * gather
    tilt = rises - hand * v * askew * _f(CLIMB) + _f(RISE_DEG) * streak
    roll = facing + _f(PLY_ROLL_DEG) * _f(1.87) * ply * (ONE - edge * edge) * (ONE - square)
    roll *= ONE - _f(TURN_LOST) * clear
    shine = _glint(hair, streak, edge, sparkle) * glint
    return stray, tilt, roll, tone, groove, shine


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _glint(hair: Any, streak: Any, edge: Any, sparkle: Any) -> Any:
    """How a ply's skin shines so far from its middle (squared), in the mean of no certain size.

    Of filaments with flat sides, those that turn one to the lamp shine the more and others hardly.
    """
    lying = hair + _f(BUNDLE_GLINT) * sparkle * streak
    lying += _f(CROWN / 0.7) * (ONE - _f(3.0) * edge) * (ONE + streak)
    shine = ONE + _f(0.7) * max(lying, _f(LEAST_GLINT))
    return shine * (ONE + sparkle * (shine * shine - ONE))


@njit(cache=True, nogil=True, error_model="numpy")
def mean_glint(texture: NDArray[np.int16], sparkle: float) -> float:
    """The mean of `_glint` over plies whose filaments are those."""
    total = 0.0
    for r in range(0, ROWS, EVERY):
        for c in range(COLS):
            streak, hair = _f(texture[r, c, 0]) * _f(UNIT), _f(texture[r, c, 1]) * _f(UNIT)
            # Filaments know nothing of plies: so each may lie anywhere on one, in steps of an odd share.
            ply = _f((r * COLS + c) * GOLDEN % 1.0)
            total += _glint(hair, streak, ply * ply, _f(sparkle))
    return total / (ROWS // EVERY * COLS)


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def strayed(at: Any, p: Any, q: Any, fuzz: Any, texture: Wholes) -> Any:
    """By how many degrees more fibres stray from thread that is fuzzy."""
    fibre, _ = _between(texture, at + np.uintp(PAIR), p, q)
    return fuzz * _f(14.0) * fibre


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def within_ply(phase: Any) -> Any:
    """Where in the twist: position within the ply in [-1, 1], its edges are the grooves."""
    return _f(2.0) * (phase - np.floor(phase + _f(0.5)))


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def filaments_at(
    k: Any, around: Any, phase: Any, hand: Any, per_sample: Any, row: Any
) -> tuple[Any, Any, Any]:
    """Number of the sample of the filaments before a place, and its shares of the way to the next row and
    column.

    Each strand shows another place of them, as its numbers say, and its plies others still.
    """
    turn = hand * (around + _f(FOLLOW) * (phase - around)) * _f(COLS)
    steps = k * per_sample
    down, right = np.int32(steps), np.int32(np.floor(turn))
    p, q = steps - _f(down), turn - _f(right)
    down += np.int32(PLY_ROWS) * np.int32(hand * np.floor(phase + _f(0.5))) + row
    return (down & np.int32(ROWS - 1)) * np.int32(WIDE) + (right & np.int32(COLS - 1)), p, q


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def wound(u: Any, k: Any, v: Any, numbers: Floats, wholes: Wholes, flake: Any) -> tuple[Any, Any, Any]:
    """What foil, wound round a core in a flat strip, adds: degrees by which it strays and rises, and the
    share of light that its seams leave. Each turn of it lies a little differently."""
    around, _ = around_at(round_step(v), v)
    s = number_of(numbers, u, BEFORE) + k * number_of(numbers, u, MM)
    # Half of it is seen, and where it begins is by chance.
    word = whole_of(wholes, u, WORD)
    name = (word & 0xFFFF) + 0x51A3 + 31
    turns = s * _f(WOUND_PER_MM) + number_of(numbers, u, HAND) * _f(0.5) * around
    turns += _f(word) * _f(1.0 / 65536.0) + _f(WOUND_WANDER) * _f(noise1(s, name))
    strip = np.floor(turns)
    facet = flake * _f(noise2(strip * 3.7, around * np.pi * 1.3 + s * 0.7, name))
    seam = _f(2.0) * (turns - strip) - ONE
    return facet * _f(18.0), facet * _f(14.0), ONE - _f(0.22) * flake * seam**8


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def round_step(v: Any) -> Any:
    """Where `ROUND` is looked up for a place across a thread."""
    return np.int32(abs(v) * _f(ROUND_STEPS) + _f(0.5))


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def around_at(step: Any, v: Any) -> tuple[Any, Any]:
    """Half-turns around a thread, and degrees by which its top is turned, at a place across it."""
    step = np.uintp(step)
    side = _f(np.copysign(ONE, v))
    return side * ROUND[step, 0], side * ROUND[step, 1]


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _between(texture: Wholes, at: Any, p: Any, q: Any) -> tuple[Any, Any]:
    """Two channels of the filaments, packed in one number, between a sample and three after it."""
    a, b = texture[at], texture[at + np.uintp(1)]
    return between_four(a, b, texture[at + np.uintp(WIDE)], texture[at + np.uintp(WIDE + 1)], p, q)


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def between_four(a: Any, b: Any, d: Any, e: Any, p: Any, q: Any) -> tuple[Any, Any]:
    """The same of the four samples: those beside each other, then those below them."""
    above, below = _first(a) + (_first(b) - _first(a)) * q, _first(d) + (_first(e) - _first(d)) * q
    one = (above + (below - above) * p) * _f(UNIT)
    above, below = _second(a) + (_second(b) - _second(a)) * q, _second(d) + (_second(e) - _second(d)) * q
    return one, (above + (below - above) * p) * _f(UNIT)


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _first(packed: Any) -> Any:
    return _f(np.int32(packed << 16) >> 16)


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _second(packed: Any) -> Any:
    return _f(packed >> 16)
