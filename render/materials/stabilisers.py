"""Stabilisers, hoops, and how the cloth is held: the shop's choices as one `Holding`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from render.errors import InputError, UsageError
from render.materials.own_file import number
from render.materials.presets import preset
from render.model import Holding, Hoop, Spread, Stabiliser

if TYPE_CHECKING:
    from render.model import Fabric, Job

NO_STABILISER = "none"


def stabiliser_names() -> tuple[str, ...]:
    """Names that `load_stabiliser` knows, `none` among them."""
    return (NO_STABILISER, *preset("stabilisers.toml")["stabiliser"])


def hoop_names() -> tuple[str, ...]:
    """Names that `load_hoop` knows."""
    return tuple(preset("hoops.toml")["hoop"])


def held_names() -> tuple[str, ...]:
    """Ways to hold the cloth."""
    return tuple(preset("stabilisers.toml")["held"])


def load_stabiliser(name: str) -> Stabiliser | None:
    """A stabiliser by name; None where there is none. Raises InputError that lists the names."""
    if name == NO_STABILISER:
        return None
    values = _named(preset("stabilisers.toml")["stabiliser"], name, "stabiliser", stabiliser_names())
    place = f"stabiliser {name}"
    return Stabiliser(
        name,
        str(values["title"]),
        number(values, "e_n_per_m", place, 1, 1e6),
        number(values, "poisson", place, 0, 0.49),
    )


def load_hoop(name: str) -> Hoop:
    """A hoop by name. Raises InputError that lists the names."""
    values = _named(preset("hoops.toml")["hoop"], name, "hoop", hoop_names())
    return Hoop(
        name=name,
        title=str(values["title"]),
        shape=values["shape"],
        width_mm=number(values, "width_mm", f"hoop {name}", 10, 2000),
        height_mm=number(values, "height_mm", f"hoop {name}", 10, 2000),
    )


def smallest_hoop(width_mm: float, height_mm: float) -> Hoop:
    """The smallest rectangular hoop with room for the design; where none has, one made to measure."""
    room_mm = number(preset("hoops.toml")["room"], "each_side_mm", "hoops, room", 0, 100)
    rooms = width_mm + 2 * room_mm, height_mm + 2 * room_mm
    hoops = sorted((load_hoop(name) for name in hoop_names()), key=lambda h: h.width_mm * h.height_mm)
    for hoop in hoops:
        if hoop.shape == "rectangle" and hoop.width_mm >= rooms[0] and hoop.height_mm >= rooms[1]:
            return hoop
    return Hoop("to-measure", f"{rooms[0]:.0f} x {rooms[1]:.0f} mm, to measure", "rectangle", *rooms)


def make_holding(
    fabric: Fabric,
    *,
    stabiliser: str | None = None,
    hoop: Hoop,
    held: str = "hooped",
    fabric_turn_deg: float = 0.0,
    gauge_n: float | None = None,
    taken_out: bool = False,
) -> Holding:
    """The cloth as it is held, without a word on stabiliser as is usual for the fabric.

    `gauge_n` is the needle thread's tension as read at the machine; the tension left in a sewn
    stitch follows it in proportion. Raises InputError for an unknown name and UsageError where
    cloth would lie on nothing.
    """
    presets = preset("stabilisers.toml")
    way = _named(presets["held"], held, "way to hold the cloth", held_names())
    under = load_stabiliser(fabric.stabiliser if stabiliser is None else stabiliser)
    if under is None and not way["cloth_in_hoop"]:
        raise UsageError(f"cloth that is {held} needs a stabiliser to lie on: name one")
    stitch = presets["stitch"]
    if gauge_n is not None and not 0.1 <= gauge_n <= 5:
        raise UsageError(f"a needle thread tension of {gauge_n:g} N is none a gauge reads: give 0.1 to 5")
    return Holding(
        fabric=fabric,
        stabiliser=under,
        hoop=hoop,
        fabric_turn_deg=fabric_turn_deg,
        contact_n_per_mm3=float(way["contact_n_per_mm3"]),
        adhesive=bool(way["adhesive"]),
        stretch=float(way["stretch"]),
        cloth_in_hoop=bool(way["cloth_in_hoop"]),
        tension_n=float(stitch["tension_n"])
        * fabric.tension_ratio
        * (gauge_n or float(stitch["gauge_n"]))
        / float(stitch["gauge_n"]),
        fabric_share=float(stitch["fabric_share"]),
        pin_n_per_mm=float(stitch["pin_n_per_mm"]),
        push_share=float(stitch["push_share"]),
        taken_out=taken_out,
        spread=load_spread(),
    )


def load_spread() -> Spread:
    """How far off predictions may be."""
    values = preset("stabilisers.toml")["spread"]
    return Spread(**{name: float(value) for name, value in values.items() if name != "source"})


def holding_for(job: Job, box_mm: tuple[float, float, float, float]) -> Holding:
    """The job's cloth as it is held for a design with this box (left, top, right, bottom)."""
    left, top, right, bottom = box_mm
    hoop = load_hoop(job.hoop) if job.hoop is not None else smallest_hoop(right - left, bottom - top)
    return make_holding(
        job.fabric,
        stabiliser=job.stabiliser,
        hoop=hoop,
        held=job.held,
        fabric_turn_deg=job.fabric_turn_deg,
        gauge_n=job.needle_tension_n,
        taken_out=not job.in_hoop,
    )


def _named(table: dict[str, Any], name: str, what: str, names: tuple[str, ...]) -> dict[str, Any]:
    if name not in table:
        raise InputError(f"there is no {what} {name!r}: choose {', '.join(names)}")
    found: dict[str, Any] = table[name]
    return found
