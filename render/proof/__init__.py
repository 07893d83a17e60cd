"""The whole way from a stitch file and a job to the proof that a customer signs, top to bottom."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING

from render.compose import MM_PER_INCH, compose, window_for
from render.draw.planes import draw_relightable
from render.inspect import check_waivers, inspect
from render.inspection import piece_of
from render.materials.fabrics import load_fabric
from render.materials.fibres import load_fibres
from render.model import View
from render.preview import draw_sewn, plan_design, sew_planned
from render.proof.account import ProofAccount, proof_account
from render.proof.swatches import thread_swatches
from render.proof.wording import language_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from render.inspect import Inspection, Piece
    from render.model import Design, Job, Picture, Relightable, Window
    from render.preview import SewnDesign

__all__ = ["Proof", "ProofAccount", "make_proof", "relightable"]

PX_PER_MM = 12.0  # one drawn picture serves the page (304.8 dpi) and the screen
MARGIN_MM = 6.0
MOST_PIXELS = 16_000_000  # larger pieces are drawn less finely


@dataclass(frozen=True, slots=True, eq=False)
class Proof:
    """Everything that both kinds of proof are made of: the account, and the one drawn picture.

    `window` is the part of design space that `picture` shows; `ready` the sewn design that it
    was drawn from and `found` its inspection, for those who need more than the account tells; `swatches`
    shows the thread of each colour block. `drawn` is what a proof for a screen moves its light over,
    where one was asked for.
    """

    account: ProofAccount
    ready: SewnDesign
    found: Inspection
    job: Job
    window: Window
    picture: Picture
    swatches: tuple[Picture, ...]
    drawn: Relightable | None = None


def make_proof(
    design: Design,
    job: Job,
    *,
    language: str | None = None,
    rotate_deg: float = 0.0,
    mirror: bool = False,
    screen: bool = False,
    progress: Callable[[float], None] | None = None,
) -> Proof:
    """Sew, inspect and draw a design once, and write down what its proof says.

    `language` outranks the job's own; `screen` prepares for a light that moves. Raises InputError
    or UsageError with one sentence.
    """
    check_waivers(job)
    code = language_of(language if language is not None else job.facts.get("language", ""))
    planned = plan_design(design, job, rotate_deg=rotate_deg, mirror=mirror)
    with ThreadPoolExecutor(1) as beside:  # what does not wait for the other, runs beside it
        swatches = beside.submit(thread_swatches, planned.threads, job)
        ready = sew_planned(planned, job)
        window = proof_window(ready)
        inspected = beside.submit(_inspected, ready, job)
        drawn = next(relightable(ready, job, [window], progress=progress)) if screen else None
        if drawn is None:
            (picture,) = draw_sewn(ready, job, [window], progress=progress)
        else:
            picture = compose(drawn.layers, window, transparent=False, notes=ready.notes)
        piece, found = inspected.result()
    account = proof_account(design, piece, found, language=code, rotate_deg=rotate_deg, mirror=mirror)
    return Proof(account, ready, found, job, window, picture, swatches.result(), drawn)


def _inspected(ready: SewnDesign, job: Job) -> tuple[Piece, Inspection]:
    piece = piece_of(ready, job)
    return piece, inspect(piece)


def relightable(
    ready: SewnDesign,
    job: Job,
    windows: Sequence[Window],
    *,
    progress: Callable[[float], None] | None = None,
) -> Iterator[Relightable]:
    """The sewn design as each window shows it, all at one scale, for a light that moves."""
    return draw_relightable(
        ready.sewn,
        threads=ready.threads,
        lobes=load_fibres(ready.threads),
        load_fabric=load_fabric,
        job=job,
        windows=windows,
        progress=progress,
    )


def proof_window(ready: SewnDesign) -> Window:
    """What the proof's picture shows: all of the design with a margin, at 12 px/mm unless it is huge."""
    box = ready.sewn.plan.box_mm
    area_mm2 = (box[2] - box[0] + 2 * MARGIN_MM) * (box[3] - box[1] + 2 * MARGIN_MM)
    px_per_mm = min(PX_PER_MM, (MOST_PIXELS / area_mm2) ** 0.5)
    return window_for(box, View(dpi=px_per_mm * MM_PER_INCH, margin_mm=MARGIN_MM))
