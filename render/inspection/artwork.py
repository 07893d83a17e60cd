"""The customer's logo against the sewing: shapes that are missing, wrong colours, lost detail.

The logo is laid over the sewing so that the outlines of both agree best; its colours are cut
into flat areas, and each area asks which thread covers it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
from scipy.cluster.vq import kmeans2
from scipy.ndimage import affine_transform, distance_transform_edt, find_objects, label

from render.colour import ciede2000, from_lab, to_lab
from render.model import CLOTH, Cover, Window

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Colour, Thread

    Floats = NDArray[np.float64]
    Mask = NDArray[np.bool_]

What = Literal["missing-shape", "wrong-colour", "lost-detail"]
COLOURS = 8  # flat colours looked for
MERGED = 8.0  # CIEDE2000 below which two of them are one (estimate)
GROUND = 4.0  # and below which a colour is that of the ground it lies on (estimate)
WRONG = 14.0  # from here on a customer would call it another colour (estimate)
SHOWN_SHARE = 0.5  # of an area that thread must cover
LEAST_MM2, LEAST_MM = 0.4, 0.3  # smaller areas are specks, thinner ones the soft edges of others
PX_PER_MM = 10.0  # fine enough for anything thread can show
NEAR_MM = 0.4  # sewing so near still shows an area: nobody sews to the pixel (estimate)
AROUND = 0.2  # of the sewing's size around it that the logo may reach into
DETAIL_MM = 1.0  # areas thinner than this are detail such as small text
LEAST_OVERLAP = 0.35  # of sewing and logo together: below this they are not the same design


@dataclass(frozen=True, slots=True)
class ArtworkFinding:
    """An area of the logo that the sewing does not show as it is; sizes and places in mm."""

    what: What
    where_mm: tuple[float, float]
    size_mm: float
    logo_srgb: Colour
    sewn_srgb: Colour | None
    words: str


@dataclass(frozen=True, slots=True, eq=False)
class ArtworkMatch:
    """The logo laid on the sewing: `logo (rows, cols, 4)` as the window shows it, how much of both
    outlines agrees in [0, 1], and what does not."""

    logo: Floats
    window: Window
    overlap: float
    findings: tuple[ArtworkFinding, ...]


def match_artwork(
    logo: Floats, cover: Cover, *, block_of: NDArray[np.integer], threads: tuple[Thread, ...], cloth: Colour
) -> ArtworkMatch:
    """Lay the logo `(rows, cols, 4)` on the sewn cover and compare them area by area.

    `block_of (S,)` is the colour block of each stitch, `cloth` the garment's colour.
    """
    cover = _with_room(cover)
    sewn = cover.stitch >= 0
    drawn = _drawn(logo)
    laid, overlap = _lay(logo, drawn, sewn)
    if overlap < LEAST_OVERLAP:
        return ArtworkMatch(laid, cover.window, overlap, ())
    colours = np.array([thread.colour_srgb for thread in threads])
    block = np.where(sewn, block_of[np.maximum(cover.stitch, 0)], -1)
    findings = _compare(laid, block, colours, cloth, cover)
    return ArtworkMatch(laid, cover.window, overlap, tuple(findings))


def _with_room(cover: Cover) -> Cover:
    """The cover, no finer than needed, with cloth around it for what of the logo is not sewn."""
    window, step = cover.window, max(1, round(cover.window.px_per_mm / PX_PER_MM))
    rows, cols = window.rows // step * step, window.cols // step * step
    room = round(AROUND * max(rows, cols) / step)
    stitch = np.pad(cover.stitch[:rows:step, :cols:step], room, constant_values=CLOTH)
    centre = (
        window.centre_mm[0] + (cols - window.cols) / 2 / window.px_per_mm,
        window.centre_mm[1] + (rows - window.rows) / 2 / window.px_per_mm,
    )
    return Cover(stitch, np.full_like(stitch, -1), Window(centre, window.px_per_mm / step, *stitch.shape))


def _drawn(logo: Floats) -> Mask:
    """What of the picture is logo: opaque, and not of the colour that its whole edge has."""
    lab = to_lab(logo[..., :3])
    edge = np.concatenate([lab[0], lab[-1], lab[:, 0], lab[:, -1]])
    alpha = np.concatenate([logo[0], logo[-1], logo[:, 0], logo[:, -1]])[:, 3]
    opaque: Mask = logo[..., 3] > 0.5
    if (alpha < 0.5).mean() > 0.5:
        return opaque
    ground = np.median(edge, 0)
    if (ciede2000(edge, ground) < GROUND).mean() < 0.9:
        return opaque
    like_ground, _ = label(opaque & (ciede2000(lab, ground) < GROUND))
    # Only ground that reaches the edge is none of the logo; white letters in it are.
    outside = np.unique(
        np.concatenate([like_ground[0], like_ground[-1], like_ground[:, 0], like_ground[:, -1]])
    )
    return opaque & ~np.isin(like_ground, outside[outside > 0])


def _lay(logo: Floats, drawn: Mask, sewn: Mask) -> tuple[Floats, float]:
    """The logo in the sewing's pixels, placed so that the two agree best, and how well they do."""
    empty = np.zeros((*sewn.shape, 4))
    if not drawn.any() or not sewn.any():
        return empty, 0.0
    target, own = _box(sewn), _box(drawn)
    scale = np.array(
        [(target[1] - target[0]) / (own[1] - own[0]), (target[3] - target[2]) / (own[3] - own[2])]
    )
    best, most = (float(scale.mean()), 0.0, 0.0), -1.0
    middle = (target[0] + target[1]) / 2, (target[2] + target[3]) / 2
    own_middle = (own[0] + own[1]) / 2, (own[2] + own[3]) / 2
    coarse = max(1, max(sewn.shape) // 220)
    step = np.array([0.08, 0.08 * sewn.shape[0], 0.08 * sewn.shape[1]])
    # From boxes upon each other, downhill with ever smaller steps.
    while step[0] > 0.002:
        tries = [best] + [
            (best[0] * (1 + s * step[0]), best[1] + r * step[1], best[2] + c * step[2])
            for s in (-1, 0, 1)
            for r in (-1, 0, 1)
            for c in (-1, 0, 1)
        ]
        agree = [_agree(drawn, sewn[::coarse, ::coarse], one, middle, own_middle, coarse) for one in tries]
        found = int(np.argmax(agree))
        if agree[found] > most + 1e-4:
            best, most = tries[found], agree[found]
        else:
            step /= 2
    laid = np.stack(
        [
            affine_transform(
                np.where(drawn, logo[..., channel] if channel < 3 else 1.0, 0.0),
                np.full(2, 1 / best[0]),
                _offset(best, middle, own_middle),
                sewn.shape,
                order=0,
            )
            for channel in range(4)
        ],
        -1,
    )
    return laid, most


def _offset(
    place: tuple[float, float, float], middle: tuple[float, float], own: tuple[float, float]
) -> Floats:
    """Where the sewing's first pixel lies in the logo."""
    scale, down, across = place
    return np.array([own[0] - (middle[0] + down) / scale, own[1] - (middle[1] + across) / scale])


def _agree(
    drawn: Mask,
    sewn: Mask,
    place: tuple[float, float, float],
    middle: tuple[float, float],
    own: tuple[float, float],
    coarse: int,
) -> float:
    """Shared area over joint area of logo and sewing at a place."""
    offset = _offset(place, middle, own)
    laid = affine_transform(drawn, np.full(2, coarse / place[0]), offset, sewn.shape, order=0)
    return float((laid & sewn).sum() / max((laid | sewn).sum(), 1))


def _box(mask: Mask) -> tuple[int, int, int, int]:
    rows, cols = np.flatnonzero(mask.any(1)), np.flatnonzero(mask.any(0))
    return int(rows[0]), int(rows[-1]) + 1, int(cols[0]), int(cols[-1]) + 1


def _compare(
    laid: Floats, block: NDArray[np.integer], colours: Floats, cloth: Colour, cover: Cover
) -> list[ArtworkFinding]:
    """Each flat area of the logo against the threads that lie there."""
    px_per_mm = cover.window.px_per_mm
    inside = laid[..., 3] > 0.5
    flat, names = _flat_colours(laid[..., :3], inside)
    found = []
    sewn = _near(block >= 0, px_per_mm)
    for name, lab in enumerate(names):
        alike = np.append(ciede2000(to_lab(colours), lab) < WRONG, False)
        right_there = _near(alike[block], px_per_mm)
        on_cloth = float(ciede2000(lab, to_lab(np.array(cloth)))) < WRONG
        areas, _ = label(flat == name)
        for number, place in enumerate(find_objects(areas), 1):
            area: Mask = areas[place] == number
            if area.sum() < LEAST_MM2 * px_per_mm**2:
                continue
            thick_mm = 2 * float(distance_transform_edt(np.pad(area, 1)).max()) / px_per_mm
            if thick_mm < LEAST_MM:
                continue
            row, col = np.argwhere(area).mean(0) + [place[0].start, place[1].start]
            where, size = cover.window.middle_mm(row, col), max(area.shape) / px_per_mm
            covered = float(sewn[place][area].mean())
            right = float(right_there[place][area].mean()) + (1 - covered) * on_cloth
            if right >= SHOWN_SHARE:
                continue
            there = block[place][area]
            used, count = np.unique(there[there >= 0], return_counts=True)
            main = None if covered < SHOWN_SHARE else _colour(colours[used[count.argmax()]])
            what, words = _what(thick_mm, covered, main, lab)
            found.append(
                ArtworkFinding(
                    what=what,
                    where_mm=where,
                    size_mm=size,
                    logo_srgb=_colour(from_lab(lab)),
                    sewn_srgb=main,
                    words=words,
                )
            )
    return sorted(found, key=lambda one: -one.size_mm)


def _what(thick_mm: float, covered: float, main: Colour | None, lab: Floats) -> tuple[What, str]:
    """What is wrong with an area, and that in words."""
    if main is None:
        words = f"only {100 * covered:.0f} % of it is sewn"
        return ("lost-detail" if thick_mm < DETAIL_MM else "missing-shape"), words
    if thick_mm < DETAIL_MM:
        return "lost-detail", "something else is sewn over it, or it runs into its neighbours"
    away = float(ciede2000(to_lab(np.array(main)), lab))
    return "wrong-colour", f"sewn in a colour that differs by {away:.0f} (CIEDE2000)"


def _near(mask: Mask, px_per_mm: float) -> Mask:
    """The mask and what lies so near to it that it counts."""
    near: Mask = distance_transform_edt(~mask) <= NEAR_MM * px_per_mm
    return near


def _flat_colours(srgb: Floats, inside: Mask) -> tuple[NDArray[np.integer], Floats]:
    """Which flat colour (rows, cols) each pixel of the logo has, -1 outside; and the colours in Lab."""
    lab = to_lab(srgb[inside])
    some = lab[:: max(1, len(lab) // 20_000)]
    start = _spread_out(some, COLOURS)
    centres, _ = kmeans2(some, start, minit="matrix", missing="warn")
    kept: list[Floats] = []
    for centre in centres:
        if all(float(ciede2000(centre, other)) >= MERGED for other in kept):
            kept.append(centre)
    names = np.array(kept)
    nearest = ((lab[:, None] - names[None]) ** 2).sum(2).argmin(1)
    flat = np.full(inside.shape, -1)
    flat[inside] = nearest
    return flat, names


def _spread_out(lab: Floats, count: int) -> Floats:
    """The most different colours: each the farthest from those before it."""
    chosen = [lab.mean(0)]
    away = ((lab - chosen[0]) ** 2).sum(1)
    while len(chosen) <= count and away.max() > MERGED**2:
        chosen.append(lab[away.argmax()])
        away = np.minimum(away, ((lab - chosen[-1]) ** 2).sum(1))
    return np.array(chosen[1:] or chosen)


def _colour(srgb: Floats) -> Colour:
    red, green, blue = (float(part) for part in srgb)
    return red, green, blue
