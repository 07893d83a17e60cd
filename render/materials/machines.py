"""Machine profiles: what a machine does that a stitch file does not say.

A profile of one's own may leave out any key:

```toml
title = "The six-needle by the window"
source = "the machine's manual, and tried out"
trimmer = true                   # it can cut by itself
trims_after_jumps = 3            # jump records in a row that make it cut, where a format has no trim code
trims_from_mm = 5                # or how long a jump makes it cut there
automatic_ties = true
needles = 6
field_width_mm = 300
field_height_mm = 200
speed_spm = 800
cap_speed_spm = 600
```
"""

from __future__ import annotations

from render.errors import InputError
from render.materials.own_file import check_keys, named_or_own, number, switch, text, whole
from render.materials.presets import preset, preset_names
from render.model import Machine

_KEYS = (
    "title",
    "source",
    "trimmer",
    "trims_after_jumps",
    "trims_from_mm",
    "automatic_ties",
    "needles",
    "field_width_mm",
    "field_height_mm",
    "speed_spm",
    "cap_speed_spm",
)


def machine_names() -> dict[str, str]:
    """Names of the profiles that ship, and what they are."""
    return {name: preset(f"machines/{name}.toml")["title"] for name in preset_names("machines")}


def load_machine(name_or_path: str) -> Machine:
    """A profile by name, or from the user's own .toml file. Raises InputError.

    What a user's file leaves out is taken from the profile `unknown`.
    """
    name, own = named_or_own("machines", name_or_path, "machine")
    place = f"machine {name_or_path}"
    check_keys(own, _KEYS, place)
    values = {**preset("machines/unknown.toml"), **own}
    trimmer = switch(values, "trimmer", place)
    for key in ("trims_after_jumps", "trims_from_mm"):
        if trimmer is False and key in values:
            raise InputError(f"{place}: a machine without trimmer cuts after no jumps: drop {key}")
    return Machine(
        name=name,
        title=text(own, "title", place) or name,
        trimmer=trimmer,
        trims_after_jumps=whole(values, "trims_after_jumps", place, 1, 50)
        if "trims_after_jumps" in values
        else None,
        automatic_ties=switch(values, "automatic_ties", place),
        needles=whole(values, "needles", place, 1, 100),
        field_mm=(
            number(values, "field_width_mm", place, 10, 5000),
            number(values, "field_height_mm", place, 10, 5000),
        ),
        speed_spm=number(values, "speed_spm", place, 1, 5000),
        cap_speed_spm=number(values, "cap_speed_spm", place, 1, 5000),
        trims_from_mm=number(values, "trims_from_mm", place, 0, 200) if "trims_from_mm" in values else None,
    )
