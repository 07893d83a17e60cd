"""What a proof says: one record, made once, that the page and the screen both show.

Lengths in mm in the frame of the design as it lies on the cloth, x right, y down; colour blocks
and threads count from 1, stitches from 0. Words of the shop and the customer are as they wrote
them, without signs that steer a terminal or turn text around; everything else is values and keys
for which `wording.py` has the words in each language.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING

from render.materials.fabrics import load_fabric
from render.materials.fibres import most_spm
from render.materials.groups import group_of
from render.materials.stabilisers import NO_STABILISER, holding_for
from render.materials.threads import threads_for
from render.plan import plan as plan_of
from render.proof.fingerprints import Fingerprints, fingerprints_of, settings_of
from render.proof.order_text import shown_text
from render.proof.remarks import Remark, Watch, customer_remarks, to_watch
from render.proof.steps import Step, sewing_steps

if TYPE_CHECKING:
    from collections.abc import Mapping

    from render.inspect import Inspection, Piece
    from render.model import BlockTreatment, Colour, Design, Fabric, Hoop, Job, Stabiliser


NOMINAL_WT = (12, 20, 30, 40, 50, 60, 75, 100, 120)  # common practice, no source
LOOSELY = 0.08  # how far threads sold by such a weight are off it (common practice, no source)


@dataclass(frozen=True, slots=True)
class Order:
    """What the job file says of the order, as text to show; empty where it says nothing.

    `notes` may have several lines.
    """

    shop: str = ""
    customer: str = ""
    order: str = ""
    garment: str = ""
    placement: str = ""
    size: str = ""
    quantity: str = ""
    due: str = ""
    notes: str = ""
    revision: str = ""


@dataclass(frozen=True, slots=True)
class Laid:
    """The cloth of an appliqué."""

    fabric: str
    title: str
    colour_srgb: Colour


@dataclass(frozen=True, slots=True)
class ProofThread:
    """The thread of one colour block. `needle` is the machine's, None where nobody said;
    `treatment` names what else lies there: applique, foam, or open work, and `laid` the cloth of
    an appliqué where the job names one."""

    number: int
    colour_srgb: Colour
    kind: str
    tex: float
    label: str
    needle: int | None
    stitches: int
    metres: float
    seconds: float
    treatment: str
    laid: Laid | None = None

    @property
    def size(self) -> str:
        """As a cone is marked: `40 wt`, or tex with the nominal weight that it is sold as."""
        metric = 1000.0 / self.tex
        nominal = min(NOMINAL_WT, key=lambda weight: abs(weight - metric))
        away = abs(nominal - metric) / nominal
        if away < 0.01:
            return f"{nominal} wt"
        return f"{self.tex:.3g} tex" + (f" (~{nominal} wt)" if away < LOOSELY else "")


@dataclass(frozen=True, slots=True)
class Cloth:
    """What it is sewn on: presets by name, and by the title of the shop's own files."""

    fabric: str
    fabric_title: str
    colour_srgb: Colour
    pile: bool
    stabiliser: str
    topping: str
    hoop: Hoop
    held: str
    cap: bool


@dataclass(frozen=True, slots=True)
class ProofAccount:
    """Everything that a proof shows, but for the picture. `run_time_s` is the machine's for one piece;
    `bobbin_m` and the threads' metres are what one piece takes, without waste. `start_mm` is the
    first needle point seen from the middle of the design."""

    name: str
    format: str
    language: str
    order: Order
    width_mm: float
    height_mm: float
    stitches: int
    colours: int
    trims: int
    run_time_s: float
    speed_spm: float
    cloth: Cloth
    threads: tuple[ProofThread, ...]
    bobbin_m: float
    start_mm: tuple[float, float]
    rotate_deg: float
    mirror: bool
    machine: str
    steps: tuple[Step, ...]
    remarks: tuple[Remark, ...]
    watch: tuple[Watch, ...]
    fingerprints: Fingerprints
    settings: dict[str, str]


def proof_account(
    design: Design,
    piece: Piece,
    found: Inspection,
    *,
    language: str,
    rotate_deg: float = 0.0,
    mirror: bool = False,
) -> ProofAccount:
    """The account of an inspected piece, in a language by its code."""
    plan, job = piece.plan, piece.job
    left, top, right, bottom = plan.box_mm
    cloth = _cloth(piece, language)
    steps = sewing_steps(piece, found.production)
    x, y = plan.start_mm[0].tolist()
    return ProofAccount(
        name=shown_text(design.name),
        format=design.format.upper(),
        language=language,
        order=order_of(job.facts),
        width_mm=right - left,
        height_mm=bottom - top,
        stitches=len(plan.start_mm),
        colours=len({(thread.colour_srgb, thread.kind, thread.tex) for thread in piece.threads}),
        trims=plan.trims,
        run_time_s=found.production.run_time_s,
        speed_spm=_speed_spm(piece),
        cloth=cloth,
        threads=_threads(piece, found, steps, language),
        bobbin_m=found.production.bobbin_thread_m,
        start_mm=(x - (left + right) / 2, y - (top + bottom) / 2),
        rotate_deg=rotate_deg,
        mirror=mirror,
        machine=job.machine.name,
        steps=steps,
        remarks=customer_remarks(found, job),
        watch=to_watch(found, plan.box_mm),
        fingerprints=fingerprints_of(design),
        settings=settings_of(
            job,
            plan,
            piece.threads,
            hoop=cloth.hoop.name,
            stabiliser=cloth.stabiliser,
            rotate_deg=rotate_deg,
            mirror=mirror,
        ),
    )


def settings_for(
    design: Design, job: Job, *, rotate_deg: float = 0.0, mirror: bool = False
) -> dict[str, str]:
    """The settings that a proof of the design would carry. Raises InputError or UsageError."""
    planned = plan_of(design, job.machine, rotate_deg=rotate_deg, mirror=mirror)
    threads, _ = threads_for(len(planned.blocks), design.colours_srgb, job.threads, job.thread_changes)
    holding = holding_for(job, planned.box_mm)
    return settings_of(
        job,
        planned,
        threads,
        hoop=holding.hoop.name,
        stabiliser=_name_of(holding.stabiliser),
        rotate_deg=rotate_deg,
        mirror=mirror,
    )


def _name_of(stabiliser: Stabiliser | None) -> str:
    return NO_STABILISER if stabiliser is None else stabiliser.name


def order_of(facts: Mapping[str, str]) -> Order:
    """The facts of a job that a proof shows, cleaned."""
    names = [field.name for field in fields(Order)]
    return Order(**{name: shown_text(facts[name], lines=name == "notes") for name in names if name in facts})


def _cloth(piece: Piece, language: str) -> Cloth:
    job = piece.job
    holding = piece.holding if piece.holding is not None else holding_for(job, piece.plan.box_mm)
    return Cloth(
        fabric=job.fabric.name,
        fabric_title=_title(job.fabric, language),
        colour_srgb=job.fabric_colour_srgb or job.fabric.colour_srgb,
        pile=group_of(job.fabric) == "pile",
        stabiliser=_name_of(holding.stabiliser),
        topping=shown_text(job.topping or NO_STABILISER),
        hoop=holding.hoop,
        held=job.held,
        cap=piece.cap,
    )


def _threads(
    piece: Piece, found: Inspection, steps: tuple[Step, ...], language: str
) -> tuple[ProofThread, ...]:
    seconds = {step.block: step.seconds for step in steps if step.action == "sew"}
    return tuple(
        ProofThread(
            number=block.index + 1,
            colour_srgb=thread.colour_srgb,
            kind=thread.kind,
            tex=thread.tex,
            label=shown_text(thread.label),
            needle=thread.needle,
            stitches=block.last - block.first + 1,
            metres=found.production.needle_thread_m[block.index],
            seconds=seconds[block.index + 1],
            treatment=piece.job.blocks[block.index].kind if block.index in piece.job.blocks else "",
            laid=_laid(piece.job.blocks.get(block.index), language),
        )
        for thread, block in zip(piece.threads, piece.plan.blocks, strict=True)
    )


def _laid(treatment: BlockTreatment | None, language: str) -> Laid | None:
    if treatment is None or not treatment.fabric:
        return None
    fabric = load_fabric(treatment.fabric)
    return Laid(fabric.name, _title(fabric, language), treatment.colour_srgb or fabric.colour_srgb)


def _title(fabric: Fabric, language: str) -> str:
    return shown_text(fabric.called.get(language, fabric.title))


def _speed_spm(piece: Piece) -> float:
    """The machine's speed for caps or flat work, lower where a thread asks for it."""
    machine = piece.job.machine
    speed_spm = machine.cap_speed_spm if piece.cap else machine.speed_spm
    return min(speed_spm, *(most_spm(thread.kind) for thread in piece.threads))
