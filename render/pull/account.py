"""Pull and push as plain values for programs, and as a table for people."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from render.words import counted, printable

if TYPE_CHECKING:
    from collections.abc import Iterator

    from render.model import Job
    from render.pull import ObjectPull, Pull, Range

SHOWN = 12  # objects that people see unless they ask for all
DOUBT = (
    "from low to high is how far off the prediction may plausibly be, by estimate: a sewn sample on the "
    "real cloth decides"
)


def account(pull: Pull) -> dict[str, Any]:
    """The report as values that JSON can hold: `objects`, `largest_shift_mm` and `notes`.

    Lengths are mm in the frame of the design as it lies on the cloth, x right, y down; objects and
    colour blocks count from 1, in sewing order; `stitches` is how many. What is predicted is
    {"low", "likely", "high"}, from the smallest to the largest plausible value: the largest pull-in
    goes with the smallest sewn width. Each object holds

    - `index`, `kind`, `colour_block`, `stitches`, `centre_mm` [x, y] of its box;
    - `programmed_width_mm` and `sewn_width_mm` along the thread, `pull_in_mm` between the two;
    - `push_mm`: what it gains across the thread, both ends together;
    - `shift_mm`: how far its thread moves against a neighbour's where the two meet, at most;
    - `compensation_total_mm`: how much wider, both sides together, to program it.

    Objects without a width (running, bean, underlay, ties) have null for what follows from it, and
    those without neighbours null for the shift. `edge_under_pile_mm` is what the pile of the cloth hides
    of each edge besides.
    """
    return {
        "objects": [
            {
                "index": one.part.index + 1,
                "kind": one.part.kind,
                "colour_block": one.part.colour_block + 1,
                "stitches": one.part.last - one.part.first + 1,
                "centre_mm": [round(at, 2) for at in one.centre_mm],
                "programmed_width_mm": _rounded(one.programmed_width_mm),
                "sewn_width_mm": _range(one.sewn_width_mm),
                "pull_in_mm": _range(one.pull_in_mm),
                "push_mm": _range(one.push_mm),
                "shift_mm": _range(one.shift_mm),
                "compensation_total_mm": _range(one.compensation_total_mm),
            }
            for one in pull.objects
        ],
        "largest_shift_mm": _range(pull.largest_shift_mm),
        "edge_under_pile_mm": round(pull.edge_under_pile_mm, 3),
        "notes": [*pull.notes, *_pile_note(pull), *([] if pull.ready.holding is None else [DOUBT])],
    }


def _pile_note(pull: Pull) -> list[str]:
    """What pile hides is no pull of the cloth, and is said apart from it."""
    hidden = pull.edge_under_pile_mm
    if not hidden:
        return []
    return [
        f"besides, the pile leans about {hidden:.2f} mm over each edge (estimate): a topping keeps it down"
    ]


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 3) + 0.0


def _range(value: Range | None) -> dict[str, float] | None:
    if value is None:
        return None
    return {name: round(getattr(value, name), 3) + 0.0 for name in ("low", "likely", "high")}


def lines(pull: Pull, job: Job, name: str, *, everything: bool) -> Iterator[str]:
    """The report as lines for people: the largest shift, then the objects, most pulled first."""
    yield f"{printable(name)} {conditions(pull, job)}: {shift_words(pull)}"
    shown = most_pulled(pull)
    left = len(shown) - SHOWN
    if everything:
        shown += [one for one in pull.objects if one.pull_in_mm is None]
    elif left > 0:
        shown = shown[:SHOWN]
    if shown:
        yield from _table([_HEAD, *(_row(one, pull) for one in shown)])
        yield "widths and what follows in mm, as low / likely / high"
    if not everything and left > 0:
        yield f"({counted(left, 'more object')}, pulled in less: --all shows them)"
    for note in account(pull)["notes"]:
        yield f"note: {note}"


def most_pulled(pull: Pull) -> list[ObjectPull]:
    """Objects that have a width, most pulled first."""
    wide = [one for one in pull.objects if one.pull_in_mm is not None]
    return sorted(wide, key=lambda one: -one.pull_in_mm.likely if one.pull_in_mm else 0.0)


def shift_words(pull: Pull) -> str:
    """The largest shift in words."""
    most = pull.largest_shift_mm
    if not any(one.shift_mm for one in pull.objects):
        return "no objects side by side that could shift against each other"
    return (
        f"neighbours shift against each other by up to {most.likely:.2f} mm "
        f"({most.low:.2f} to {most.high:.2f})"
    )


def conditions(pull: Pull, job: Job) -> str:
    """Cloth and how it is held: `on jersey over cut-away, hooped`."""
    holding = pull.ready.holding
    if holding is None:
        return "on cloth that lies still"
    under = "no stabiliser" if holding.stabiliser is None else holding.stabiliser.title
    return f"on {holding.fabric.name} over {under}, {job.held}"


def compensation_words(total_mm: float) -> str:
    """How much wider to program an object: `0.30 mm in all, 0.15 each side`."""
    if abs(total_mm) < 0.005:
        return "none"
    narrower = " narrower" if total_mm < 0 else ""
    return f"{abs(total_mm):.2f} mm in all, {abs(total_mm) / 2:.2f} each side{narrower}"


def place_words(one: ObjectPull, pull: Pull) -> str:
    """Where an object lies from the design's middle: `12 left, 3 up`."""
    left, top, right, bottom = pull.ready.sewn.plan.box_mm
    x, y = one.centre_mm[0] - (left + right) / 2, one.centre_mm[1] - (top + bottom) / 2
    parts = [
        f"{abs(way):.0f} {less if way < 0 else more}"
        for way, less, more in ((x, "left", "right"), (y, "up", "down"))
        if round(abs(way))
    ]
    return ", ".join(parts) or "middle"


_HEAD = (
    *("no", "object", "block", "from the middle", "width", "as sewn", "pull-in"),
    *("push at ends", "shift", "compensation"),
)


def _row(one: ObjectPull, pull: Pull) -> tuple[str, ...]:
    width, ends, more = one.programmed_width_mm, one.push_ends_mm, one.compensation_total_mm
    return (
        str(one.part.index + 1),
        one.part.kind.replace("-", " "),
        str(one.part.colour_block + 1),
        place_words(one, pull),
        "-" if width is None else f"{width:.2f}",
        _three(one.sewn_width_mm),
        _three(one.pull_in_mm),
        "-" if ends is None else f"{_signed(ends[0])} {_signed(ends[1])}",
        _three(one.shift_mm),
        "-" if more is None else compensation_words(more.likely),
    )


def _three(value: Range | None) -> str:
    if value is None:
        return "-"
    return " / ".join(f"{round(at, 2) + 0.0:.2f}" for at in (value.low, value.likely, value.high))


def _signed(value: float) -> str:
    return f"{round(value, 2) + 0.0:+.2f}"


def _table(rows: list[tuple[str, ...]]) -> Iterator[str]:
    """Columns side by side, words to the left and numbers to the right."""
    widths = [max(len(row[k]) for row in rows) for k in range(len(rows[0]))]
    words = (1, 3, 9)
    for row in rows:
        cells = [
            f"{text:<{wide}}" if k in words else f"{text:>{wide}}"
            for k, (text, wide) in enumerate(zip(row, widths, strict=True))
        ]
        yield "  ".join(cells).rstrip()
