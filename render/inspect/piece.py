"""The piece under inspection, and what is made of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from render.model import Cover, Holding, Job, Limits, Problem, Production, Sewn, SewPlan, Thread


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """A sewn design with everything that decides whether it is any good.

    `high` is `sewn` where what is uncertain acts as strongly as is plausible; `limits` and
    `threads` have one entry a colour block; `programmed_cover` and `sewn_cover` show the same
    window. `cap` is set for a design sewn on a cap.
    """

    sewn: Sewn
    high: Sewn
    job: Job
    holding: Holding | None
    threads: tuple[Thread, ...]
    limits: tuple[Limits, ...]
    programmed_cover: Cover
    sewn_cover: Cover
    cap: bool = False

    @property
    def plan(self) -> SewPlan:
        """What is sewn."""
        return self.sewn.plan


@dataclass(frozen=True, slots=True)
class Inspection:
    """What was found, the worst first, how many findings were waived, and what sewing takes."""

    problems: tuple[Problem, ...]
    waived: int
    production: Production
