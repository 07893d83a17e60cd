"""What an inspection found, as plain values for programs and as lines for people."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from render.colour import hex_colour
from render.inspection.artwork_words import artwork_lines
from render.words import counted, printable, seen_from_middle

if TYPE_CHECKING:
    from collections.abc import Iterator

    from render.inspect import Inspection
    from render.inspect.piece import Piece
    from render.inspection.artwork import ArtworkMatch
    from render.inspection.order import OrderEstimate
    from render.model import Design, Problem

    Box = tuple[float, float, float, float]

CAUTIONS = (
    "Stop the machine before hands or scissors go near the needle.",
    "Protective, high-visibility and flame-resistant garments and children's wear: ask the garment's "
    "maker before sewing on them, and follow local rules.",
)
SHOWN = 12  # problems that people see unless they ask for all


def account(
    design: Design,
    piece: Piece,
    found: Inspection,
    *,
    artwork: ArtworkMatch | None = None,
    order: OrderEstimate | None = None,
) -> dict[str, Any]:
    """The inspection as values that JSON can hold.

    Lengths in mm in the frame of the design as it lies on the cloth, x right, y down; objects,
    stitches and colour blocks count from 1; `size_mm` is null for kinds without a size.
    """
    plan, production = piece.plan, found.production
    counts = {level: sum(one.severity == level for one in found.problems) for level in _LEVELS}
    return {
        "name": design.name,
        "sha256": design.sha256,
        "fabric": piece.job.fabric.name,
        "verdict": verdict(counts),
        "summary": {**counts, "waived": found.waived, "stitches": len(plan.start_mm)},
        "problems": [_problem(one, plan.box_mm) for one in found.problems],
        "production": {
            "run_time_s": round(production.run_time_s),
            "trims": production.trims,
            "colour_changes": production.colour_changes,
            "stops": production.stops,
            "needle_thread_m": {
                str(block): round(metres, 2) for block, metres in enumerate(production.needle_thread_m, 1)
            },
            "bobbin_thread_m": round(production.bobbin_thread_m, 2),
        },
        "cautions": list(CAUTIONS),
        **({} if artwork is None else {"artwork": _artwork(artwork, plan.box_mm)}),
        **({} if order is None else {"order": _order(order)}),
    }


def _order(order: OrderEstimate) -> dict[str, Any]:
    return {
        "quantity": order.quantity,
        "heads": order.heads,
        "runs": order.runs,
        "machine_s": round(order.machine_s),
        "hooping_s": round(order.hooping_s),
        "clean_up_s": round(order.clean_up_s),
        "bobbin_changes": order.bobbin_changes,
        "total_s": round(order.total_s),
        "needle_thread_m": {
            str(block): round(metres, 1) for block, metres in enumerate(order.needle_thread_m, 1)
        },
        "bobbin_thread_m": round(order.bobbin_thread_m, 1),
    }


def order_line(values: dict[str, Any]) -> str:
    """Hours, thread and bobbins of an order in a line."""
    hours = {key: values[f"{key}_s"] / 3600 for key in ("total", "machine", "hooping", "clean_up")}
    pieces, heads = counted(values["quantity"], "piece"), counted(values["heads"], "head")
    needle = sum(values["needle_thread_m"].values())
    return (
        f"an order of {pieces} on {heads} takes about {hours['total']:.1f} h: {hours['machine']:.1f} h at "
        f"the machine, {hours['hooping']:.1f} h to hoop, {hours['clean_up']:.1f} h to clip, "
        f"{counted(values['bobbin_changes'], 'bobbin change')}; needle thread {needle:.0f} m, bobbin "
        f"{values['bobbin_thread_m']:.0f} m"
    )


def _artwork(match: ArtworkMatch, box_mm: Box) -> dict[str, Any]:
    return {
        "overlap": round(match.overlap, 3),
        "verdict": artwork_lines(match, box_mm)[0],
        "findings": [
            {
                "what": one.what,
                "where_mm": [round(at, 2) for at in one.where_mm],
                "size_mm": round(one.size_mm, 2),
                "logo_colour": hex_colour(one.logo_srgb),
                "sewn_colour": None if one.sewn_srgb is None else hex_colour(one.sewn_srgb),
                "words": line,
            }
            for one, line in zip(match.findings, artwork_lines(match, box_mm)[1:], strict=True)
        ],
    }


_LEVELS = ("fix", "check", "note")


def verdict(counts: dict[str, int]) -> str:
    """One line: send the file back, or sew it."""
    if counts["fix"]:
        return f"send it back: {counted(counts['fix'], 'fault')} would spoil the piece or cost time"
    if counts["check"]:
        return f"sew one and look at {counted(counts['check'], 'place')} first"
    return "sew it: nothing found that a sewn sample would show"


def _problem(one: Problem, box_mm: Box) -> dict[str, Any]:
    return {
        "kind": one.kind,
        "severity": one.severity,
        "where_mm": [round(at, 2) for at in one.where_mm],
        "where": seen_from_middle(one.where_mm, box_mm),
        "box_mm": [round(at, 2) for at in one.box_mm],
        "size_mm": None if one.size_mm is None else round(one.size_mm, 2),
        "objects": [index + 1 for index in one.objects],
        "stitches": [one.stitches[0] + 1, one.stitches[1] + 1],
        "colour_block": one.colour_block + 1,
        "cause": one.cause,
        "remedy": one.remedy,
    }


def lines(values: dict[str, Any], *, everything: bool) -> Iterator[str]:
    """The account as lines for people, the worst first; the mildest are left out unless asked for."""
    yield f"{printable(values['name'])} on {values['fabric']}: {values['verdict']}"
    problems = values["problems"]
    shown = problems if everything else [one for one in problems if one["severity"] != "note"][:SHOWN]
    for number, one in enumerate(problems, 1):
        if one in shown:
            yield from _lines_of(number, one)
    if left := len(problems) - len(shown):
        yield f"({left} more, of them {values['summary']['note']} notes: --all shows them)"
    if values["summary"]["waived"]:
        yield f"{counted(values['summary']['waived'], 'finding')} waived in the job file"
    if "artwork" in values:
        yield values["artwork"]["verdict"]
        yield from (one["words"] for one in values["artwork"]["findings"])
    yield production_line(values["production"])
    if "order" in values:
        yield order_line(values["order"])
    yield from values["cautions"]


def _lines_of(number: int, one: dict[str, Any]) -> Iterator[str]:
    size = "" if one["size_mm"] is None else f", {one['size_mm']:.2f} mm"
    yield (
        f"{number:>3}  {one['severity']:<5}  {one['kind'].replace('-', ' ')}{size}, {one['where']}, "
        f"block {one['colour_block']}"
    )
    yield f"            {one['cause']}"
    yield f"            {one['remedy']}"


def production_line(values: dict[str, Any]) -> str:
    """Time, cuts, changes and thread of one piece in a line."""
    minutes, seconds = divmod(values["run_time_s"], 60)
    needle = sum(values["needle_thread_m"].values())
    return (
        f"running time about {minutes}:{seconds:02d} min, {counted(values['trims'], 'trim')}, "
        f"{counted(values['colour_changes'], 'colour change')}; needle thread {needle:.1f} m, "
        f"bobbin {values['bobbin_thread_m']:.1f} m"
    )
