"""What sewing takes besides the stitches: seconds by hand and by machine, thread that is lost."""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import cache

from render.materials.own_file import number
from render.materials.presets import preset


@dataclass(frozen=True, slots=True)
class Effort:
    """Seconds, shares and lengths; `presets/production.toml` says what each is."""

    trim_s: float
    colour_change_s: float
    stop_s: float
    full_speed_mm: float
    slowest_mm: float
    slowest_share: float
    bobbin_share: float
    waste_share: float
    bobbin_m: float
    stabiliser_mm: float
    pressed_pile_share: float
    hooping_s: float
    clip_s: float
    short_clip_s: float
    scissors_mm: float
    bobbin_change_s: float


@cache
def usual_effort() -> Effort:
    """The effort that ships."""
    values = {key: value for table in preset("production.toml").values() for key, value in table.items()}
    return Effort(
        **{field.name: number(values, field.name, "production", 0, 1e5) for field in fields(Effort)}
    )
