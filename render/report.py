"""What came out, in figures and in words: one account for people and for programs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from render.colour import colour_words, hex_colour
from render.materials.stabilisers import NO_STABILISER, holding_for
from render.words import counted, printable

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from render.model import Design, Job, Thread, Travel
    from render.preview import Drawn


def report(design: Design, drawn: Drawn, job: Job) -> dict[str, Any]:
    """The account of one drawn design, as plain values that JSON can hold.

    Lengths in mm in the frame of the design as it lies on the cloth (turned, mirrored),
    x right, y down; `uncut_jumps` holds those that may be cut (`depends`) too.
    """
    plan, picture = drawn.sewn.plan, drawn.picture
    left, top, right, bottom = plan.box_mm
    rows, cols = picture.pixels.shape[:2]
    kinds = [thing.kind for thing in plan.objects]
    return {
        "name": design.name,
        "format": design.format.upper(),
        "sha256": design.sha256,
        "stitches": len(plan.start_mm),
        "colour_blocks": len(plan.blocks),
        "objects": len(plan.objects),
        "object_kinds": {kind: kinds.count(kind) for kind in sorted(set(kinds))},
        "width_mm": round(right - left, 2),
        "height_mm": round(bottom - top, 2),
        "trims": plan.trims,
        "uncut_jumps": [_jump(travel) for travel in plan.travels if travel.cut != "yes"],
        "threads": [
            _thread(thread, block.index + 1, block.last - block.first + 1)
            for thread, block in zip(drawn.threads, plan.blocks, strict=True)
        ],
        "order": dict(job.facts),
        "fabric": job.fabric.name,
        "fabric_colour": hex_colour(job.fabric_colour_srgb or job.fabric.colour_srgb),
        "sewing": _sewing(job, plan.box_mm),
        "light": job.light.name,
        "machine": job.machine.name,
        "finish": job.finish,
        "picture": {
            "width_px": cols,
            "height_px": rows,
            "dpi": round(picture.dpi, 3),
            "width_mm": round(cols / picture.dpi * 25.4, 2),
            "height_mm": round(rows / picture.dpi * 25.4, 2),
        },
        "notes": list(
            dict.fromkeys([*design.notes, *plan.notes, *drawn.notes, *picture.notes, *_without_effect(job)])
        ),
    }


def summary(account: dict[str, Any], swatch: Callable[[str], str]) -> Iterator[str]:
    """The account as lines for people; `swatch` gives what stands before a colour value."""
    if account["order"]:
        yield printable("; ".join(f"{key}: {fact}" for key, fact in account["order"].items()))
    yield (
        f"{printable(account['name'])}: {account['format']}, "
        f"{counted(account['stitches'], 'stitch', 'stitches')}, "
        f"{account['width_mm']:.1f} x {account['height_mm']:.1f} mm, "
        f"{counted(account['colour_blocks'], 'colour block')}, {counted(account['trims'], 'trim')}"
    )
    yield _conditions(account)
    for thread in account["threads"]:
        stitches = counted(thread["stitches"], "stitch", "stitches")
        yield (
            f"{thread['block']:>3}  {swatch(thread['colour'])}{thread['colour']}  {thread['words']:<17}  "
            f"{thread['kind'].replace('-', ' ')}, {thread['tex']:.3g} tex, {stitches}"
            f"{_place_of(thread)}"
        )
    jumps = account["uncut_jumps"]
    if jumps:
        depends = sum(jump["cut"] == "depends" for jump in jumps)
        longest = max(jump["length_mm"] for jump in jumps)
        if depends == len(jumps):
            which = "it is" if depends == 1 else "they are"
        else:
            which = f"{depends} of them {'is' if depends == 1 else 'are'}"
        doubt = f"; whether {which} cut depends on the machine" if depends else ""
        yield f"{counted(len(jumps), 'uncut jump')}, the longest {longest:.1f} mm{doubt}"
    for note in account["notes"]:
        yield f"note: {note}"


def _sewing(job: Job, box_mm: tuple[float, float, float, float]) -> dict[str, Any]:
    """What the stitches were reckoned to be sewn on, the usual things where nothing was asked for."""
    if job.as_programmed:
        return {"as_programmed": True}
    holding = holding_for(job, box_mm)
    return {
        "as_programmed": False,
        "stabiliser": NO_STABILISER if holding.stabiliser is None else holding.stabiliser.name,
        "hoop": holding.hoop.name,
        "held": job.held,
        "in_hoop": job.in_hoop,
    }


def _conditions(account: dict[str, Any]) -> str:
    """Cloth, sewing, light, machine and finish in a line, by the names that the options take."""
    sewing = account["sewing"]
    if sewing["as_programmed"]:
        how = "as programmed"
    else:
        where = "" if sewing["in_hoop"] else "taken out of the hoop, "
        under = "no stabiliser" if sewing["stabiliser"] == NO_STABILISER else sewing["stabiliser"]
        how = f"{where}{under}, {sewing['held']}, hoop {sewing['hoop']}"
    return (
        f"on {account['fabric']} {account['fabric_colour']}: {how}; light {account['light']}, "
        f"machine {account['machine']}, {account['finish']}"
    )


def _without_effect(job: Job) -> list[str]:
    """A note for what the job says and the stitches do not feel."""
    if not job.topped:
        return []
    shown = "drawn as a film over the cloth" if job.finish == "off-machine" else "not drawn"
    words = f"topping {job.topping!r} is {shown}; what it does to the stitches is not reckoned with"
    return [printable(words)]


def _jump(travel: Travel) -> dict[str, Any]:
    return {
        "from_mm": _rounded(travel.from_mm),
        "to_mm": _rounded(travel.to_mm),
        "length_mm": round(travel.length_mm, 2),
        "colour_block": travel.colour_block + 1,
        "after_stitch": travel.after_stitch + 1,
        "cut": travel.cut,
        "reason": travel.reason,
    }


def _thread(thread: Thread, block: int, stitches: int) -> dict[str, Any]:
    return {
        "block": block,
        "colour": hex_colour(thread.colour_srgb),
        "words": colour_words(thread.colour_srgb),
        "kind": thread.kind,
        "tex": round(thread.tex, 2),
        "diameter_mm": round(thread.diameter_mm, 3),
        "stitches": stitches,
        "label": thread.label,
        "needle": thread.needle,
    }


def _place_of(thread: dict[str, Any]) -> str:
    """Where the shop finds the thread, in its own words."""
    needle = f"needle {thread['needle']}" if thread["needle"] is not None else ""
    words = ": ".join(part for part in (needle, thread["label"]) if part)
    return f" ({words})" if words else ""


def _rounded(point_mm: tuple[float, float]) -> list[float]:
    return [round(float(point_mm[0]), 2), round(float(point_mm[1]), 2)]
