"""What an order takes: hours at the machine and by hand, thread and bobbins."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from render.errors import UsageError
from render.materials.production import usual_effort

if TYPE_CHECKING:
    from render.inspect import Inspection

MOST = 1_000_000_000  # pieces, or heads


@dataclass(frozen=True, slots=True)
class OrderEstimate:
    """An order of so many pieces on so many heads; thread in metres with what is lost besides."""

    quantity: int
    heads: int
    runs: int
    machine_s: float
    hooping_s: float
    clean_up_s: float
    bobbin_changes: int
    bobbin_s: float
    needle_thread_m: tuple[float, ...]
    bobbin_thread_m: float

    @property
    def total_s(self) -> float:
        """Seconds at the machine and by hand, one after the other."""
        return self.machine_s + self.hooping_s + self.clean_up_s + self.bobbin_s


def check_order(quantity: int, heads: int) -> None:
    """Raise UsageError for less than one piece or head, and for more than anybody sews."""
    if quantity < 1 or heads < 1:
        raise UsageError("an order has at least one piece, and a machine one head: give 1 or more")
    if max(quantity, heads) > MOST:
        raise UsageError(f"no order has more than {MOST:,} pieces, nor a machine heads: give fewer")


def order_estimate(found: Inspection, *, quantity: int, heads: int) -> OrderEstimate:
    """Hooping and clipping are by one pair of hands, one piece after the other; heads sew at once.

    Errors as `check_order`.
    """
    check_order(quantity, heads)
    effort, production = usual_effort(), found.production
    runs = math.ceil(quantity / heads)
    clip = sum(
        effort.short_clip_s if length < effort.scissors_mm else effort.clip_s
        for length in production.clipped_mm
    )
    grown = 1.0 + effort.waste_share
    bobbin_m = quantity * production.bobbin_thread_m * grown
    # Each head has its own bobbin, and the machine waits for whichever is empty.
    per_head = math.ceil(bobbin_m / heads / effort.bobbin_m) if bobbin_m else 0
    changes = max(per_head - 1, 0) * heads
    return OrderEstimate(
        quantity=quantity,
        heads=heads,
        runs=runs,
        machine_s=runs * production.run_time_s,
        hooping_s=quantity * effort.hooping_s,
        clean_up_s=quantity * clip,
        bobbin_changes=changes,
        bobbin_s=changes * effort.bobbin_change_s,
        needle_thread_m=tuple(quantity * metres * grown for metres in production.needle_thread_m),
        bobbin_thread_m=bobbin_m,
    )
