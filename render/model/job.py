"""An order: everything about the sewing that the stitch file does not know."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from render.model.arrays import Colour
    from render.model.findings import Waiver
    from render.model.materials import BlockTreatment, Fabric, Light, Machine, Thread, ThreadChange


Finish = Literal["off-machine", "cleaned"]


@dataclass(frozen=True, slots=True)
class Job:
    """Everything about an order that the stitch file does not know.

    `threads` is one a colour block (shorter lists leave the rest to the file's colours);
    `thread_changes` come on top, by block counted from 0;
    without a `stabiliser` or `hoop` the fabric's usual one and the smallest that holds the
    design are meant; `needle_tension_n` is as read at the machine; the piece is drawn as it
    lies `in_hoop`, for which the give was calibrated, or taken out of it, and on cloth that lies
    still when `as_programmed`;
    `facts` the customer's: shop, customer, order, garment, placement, quantity, notes …
    """

    fabric: Fabric
    light: Light
    machine: Machine
    fabric_colour_srgb: Colour | None = None
    fabric_turn_deg: float = 0.0
    stabiliser: str | None = None
    topping: str | None = None
    hoop: str | None = None
    held: str = "hooped"
    needle_tension_n: float | None = None
    in_hoop: bool = True
    as_programmed: bool = False
    threads: tuple[Thread, ...] = ()
    thread_changes: dict[int, ThreadChange] = field(default_factory=dict)
    blocks: dict[int, BlockTreatment] = field(default_factory=dict)
    finish: Finish = "off-machine"
    seed: int = 0
    waivers: tuple[Waiver, ...] = ()
    facts: dict[str, str] = field(default_factory=dict)

    @property
    def topped(self) -> bool:
        """Whether a topping lies on the cloth."""
        return self.topping not in (None, "none")
