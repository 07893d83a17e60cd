"""What the stitching lies on: the cloth, appliqué pieces laid on it, a topping film over it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from render.draw.across import CELL_MM
from render.draw.aside import aside_of
from render.draw.cloth import ClothLayer, lay_cloth, light_cloth
from render.draw.cloth.lattice import reached_mm
from render.draw.dimples import Bedding
from render.draw.film import film_over, mirrors
from render.draw.foam import foam_under
from render.draw.laid import map_shape
from render.draw.outline import inside, scan
from render.draw.pucker import Pucker, cached_pucker
from render.draw.seen_move import seen_move
from render.draw.stack import Rise
from render.draw.strands import Strands, unmoved
from render.draw.stray import stray_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from render.draw.aside import Aside
    from render.draw.cloth import LitCloth
    from render.draw.seen_move import SeenMove
    from render.draw.stray import Stray
    from render.model import ClothMove, Colour, Fabric, Floats, Job, Sewn, Window

PIECE_SHARE = 0.6  # of a piece's thickness that stands up once stitched down (estimate)
PILE_STANDS = 0.53
UNDER_FILM = 0.35  # of that, where a film lay over the pile while it was sewn (estimate)
GROOVE_PER_MM = 16.0  # what a mm of soft face adds to the groove under a thread (by eye)
EDGE_SAMPLES = 4  # sub-rows and sub-columns with which a piece's edge is smoothed


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """An appliqué cloth: closed outline in design space, as it lies and as it was `laid_mm`, lit cloth,
    height of its face."""

    outline_mm: Floats
    laid_mm: Floats
    cloth: LitCloth
    height_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """Cloth, the pieces laid on it in order, and how a topping `film` over all mirrors the lamp, None where
    there is none.

    `move` is how the stitching has drawn the cloth together, None while it lies still, `pucker` the ridges
    that it raises, and `aside` how single yarns lie; `pile_mm` is how far its pile stands above stitching
    in it; `hidden (S,)` is true for stitches that a piece covers; `foam_mm` are first and last stitch of the
    satins over foam with its height. `needle_holes` are seen in cloth without pile; `stray` fibres of
    it lie over the edges of stitching. Its nap is `crushed` beside stitching: so many times as steep as thin
    cloth, and as much darker.
    """

    cloth: LitCloth
    pieces: tuple[Piece, ...]
    film: NDArray[np.float64] | None
    hidden: NDArray[np.bool_]
    seed: int
    move: ClothMove | None = None
    pucker: Pucker | None = None
    aside: tuple[Aside, ...] = ()
    pile_mm: float = 0.0
    foam_mm: tuple[tuple[int, int, float], ...] = ()
    needle_holes: bool = True
    stray: Stray | None = None
    crushed: float = 1.0

    @property
    def bedding(self) -> Bedding:
        """How thread beds itself in the cloth: pile and loops close over its holes."""
        groove = GROOVE_PER_MM * self.bed_mm
        return Bedding(groove=1.0 + groove) if self.needle_holes else Bedding(0.0, groove)

    @property
    def bed_mm(self) -> float:
        """How deep stitching lies in the cloth's face, mm."""
        return self.cloth.bed_mm

    @property
    def below_linear(self) -> NDArray[np.float64]:
        """Mean colour (3,) of the cloth as it is lit, white card = 1."""
        return self.cloth.mean_linear

    @property
    def highest_mm(self) -> float:
        """No cloth rises higher."""
        tops = [piece.cloth.highest_mm + piece.height_mm for piece in self.pieces]
        return max([self.cloth.highest_mm + self.pile_mm, *tops])


def ground_for(
    sewn: Sewn,
    job: Job,
    px_per_mm: float,
    load_fabric: Callable[[str], Fabric],
    *,
    cloth_per_mm: float | None = None,
) -> Ground:
    """Light the job's cloth and its appliqué pieces, sized for `px_per_mm`; the cloth for `cloth_per_mm`
    where it is given.

    A piece has the outline of the block that the job calls appliqué: the placement line.
    """

    def lit(fabric: Fabric, colour: Colour | None, per_mm: float = px_per_mm) -> LitCloth:
        return light_cloth(
            fabric,
            job.light,
            colour_srgb=colour,
            turn_deg=job.fabric_turn_deg,
            mirrored=False,
            px_per_mm=per_mm,
            seed=job.seed,
        )

    pieces, hidden = _pieces_of(sewn, job, load_fabric, lit)
    foamed = {block for block, one in job.blocks.items() if one.kind == "foam"}
    foam = tuple(
        (one.first, one.last, job.blocks[one.colour_block].height_mm)
        for one in sewn.plan.objects
        if one.kind == "satin" and one.colour_block in foamed
    )
    film = mirrors(job.light) if job.topped and job.finish == "off-machine" else None
    pucker = None if sewn.cloth is None else cached_pucker(sewn.cloth, sewn.plan.box_mm, job.seed)
    aside = () if sewn.cloth is None else (aside_of(sewn, job.seed),)
    cloth = lit(job.fabric, job.fabric_colour_srgb, cloth_per_mm or px_per_mm)
    open_ = job.fabric.structure.get("kind") not in {"pile", "terry"}
    # A topping keeps them down.
    stray = None if job.topped else stray_of(job.fabric)
    crushed = float(job.fabric.structure.get("pile", {}).get("crushed", 1.0))
    facts = sewn.cloth, pucker, aside, _pile_mm(job), foam, open_, stray, crushed
    return Ground(cloth, pieces, film, hidden, job.seed, *facts)


def _pieces_of(
    sewn: Sewn,
    job: Job,
    load_fabric: Callable[[str], Fabric],
    lit: Callable[[Fabric, Colour | None], LitCloth],
) -> tuple[tuple[Piece, ...], NDArray[np.bool_]]:
    """The appliqué pieces in the order in which they are laid, and the stitches (S,) that they cover."""
    hidden = np.zeros(len(sewn.start_mm), bool)
    if not any(one.kind == "applique" for one in job.blocks.values()):
        return (), hidden
    laid, pieces = unmoved(sewn)[0], []
    for block in sewn.plan.blocks:
        treatment = job.blocks.get(block.index)
        if treatment is None or treatment.kind != "applique":
            continue
        fabric = load_fabric(treatment.fabric) if treatment.fabric else job.fabric
        own = slice(block.first, block.last + 1)
        outline, laid_mm = (np.concatenate([s.start_mm[own], s.end_mm[own][-1:]]) for s in (sewn, laid))
        height_mm = PIECE_SHARE * fabric.thickness_mm
        pieces.append(Piece(outline, laid_mm, lit(fabric, treatment.colour_srgb), height_mm))
        middle = (laid.start_mm + laid.end_mm) / 2
        hidden[: block.last + 1] |= inside(laid_mm, middle[: block.last + 1])
        hidden[own] = True
    return tuple(pieces), hidden


def _pile_mm(job: Job) -> float:
    """How far the pile of the job's cloth stands above stitching sewn in it, 0 without any."""
    if job.fabric.structure.get("kind") != "pile":
        return 0.0
    height_mm = float(job.fabric.structure["pile"]["height_mm"])
    return height_mm * PILE_STANDS * (UNDER_FILM if job.topped else 1.0)


def standing_pile(
    ground: Ground, layer: ClothLayer, window: Window, rect: tuple[int, int, int, int]
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """How high pile stands over a rectangle where nothing presses it down, mm, and how much brighter its
    fibres are there than on the whole. No pile stands on the pieces."""
    usual = max(float(ground.cloth.mean_linear.mean()), 1e-6)
    bright = layer.radiance_linear.mean(axis=2) / np.float32(usual) - np.float32(1.0)
    stands = np.float32(ground.pile_mm) * (1.0 - piece_shares(ground, window, rect))
    return layer.height_mm + stands, bright


def lay_ground(
    ground: Ground,
    window: Window,
    rect: tuple[int, int, int, int],
    wanted: NDArray[np.bool_] | None = None,
) -> ClothLayer:
    """Cloth, pieces and film over a rectangle (first row, first column, rows, columns).

    With `wanted (rows, cols)` only in those pixels, elsewhere is nothing.
    """
    if wanted is None:
        wanted = np.ones(rect[2:], np.bool_)
    moved = None
    if ground.move is not None:
        x, y = (reached_mm(at) for at in _places(window, rect))
        moved = seen_move(ground.move, x, y, ground.aside)
    layer = _lay(ground.cloth, window, rect, moved, wanted)
    if not ground.pieces and ground.film is None:
        return layer
    light, height = layer.radiance_linear.copy(), layer.height_mm.copy()
    for piece in ground.pieces:
        share = _cover(piece, window, rect)
        if not share.any():
            continue
        laid = _lay(piece.cloth, window, rect, moved, wanted)
        light += share[..., None] * (laid.radiance_linear - light)
        height += share * (laid.height_mm + piece.height_mm - height)
    if ground.film is not None:
        x, y = _places(window, rect)
        light = film_over(light, x, y, ground.seed, ground.film)
    return ClothLayer(light, height)


def piece_shares(ground: Ground, window: Window, rect: tuple[int, int, int, int]) -> NDArray[np.float32]:
    """Share of each pixel of a rectangle that any piece covers."""
    share = np.zeros(rect[2:], np.float32)
    for piece in ground.pieces:
        share = np.maximum(share, _cover(piece, window, rect))
    return share


def raised_base(ground: Ground, strands: Strands) -> tuple[Rise, ...]:
    """The pieces, which lie there from the first, and the foam, which underlay presses flat (estimate).

    Under the strands as they are laid, see `stack_strands`.
    """
    if not ground.pieces and not ground.foam_mm:
        return ()
    rows, cols = map_shape(strands)
    x = np.arange(-(cols // 2), cols // 2 + 1) * np.float64(CELL_MM) + strands.anchor_mm[0]
    y = np.arange(-(rows // 2), rows // 2 + 1) * np.float64(CELL_MM) + strands.anchor_mm[1]
    base = np.zeros((rows, cols), np.float32)
    for piece in ground.pieces:
        base[scan(piece.laid_mm, x, y)] = piece.height_mm
    rises = [Rise(0, base)]
    laid = strands.unmoved()
    for first, last, height_mm in ground.foam_mm:
        over = np.flatnonzero((strands.stitch >= first) & (strands.stitch <= last))
        if len(over):
            dome = foam_under(laid.start_mm[over], laid.end_mm[over], (rows, cols))
            rises.append(Rise(int(over[0]), dome * np.float32(height_mm)))
    return tuple(rises)


def _lay(
    cloth: LitCloth,
    window: Window,
    rect: tuple[int, int, int, int],
    moved: SeenMove | None,
    wanted: NDArray[np.bool_],
) -> ClothLayer:
    top, left, rows, cols = rect
    return lay_cloth(
        cloth,
        window=window,
        first_row=top,
        rows=rows,
        first_col=left,
        cols=cols,
        moved=moved,
        wanted=wanted,
    )


def _places(
    window: Window, rect: tuple[int, int, int, int], samples: int = 1
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Design-space x of the columns and y of the rows, `samples` to a pixel."""
    top, left, rows, cols = rect
    col = left + (np.arange(cols * samples) + 0.5) / samples - window.cols / 2
    row = top + (np.arange(rows * samples) + 0.5) / samples - window.rows / 2
    return window.centre_mm[0] + col / window.px_per_mm, window.centre_mm[1] + row / window.px_per_mm


def _cover(piece: Piece, window: Window, rect: tuple[int, int, int, int]) -> NDArray[np.float32]:
    """Share of each pixel that the piece covers."""
    rows, cols = rect[2:]
    x, y = _places(window, rect, EDGE_SAMPLES)
    fine = scan(np.ascontiguousarray(piece.outline_mm), x, y)
    parts = fine.reshape(rows, EDGE_SAMPLES, cols, EDGE_SAMPLES)
    return np.asarray(parts.mean(axis=(1, 3)), np.float32)
