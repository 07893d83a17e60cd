"""What a revision changed, as plain values for programs and as lines for people."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from render.words import counted, printable, seen_from_middle

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from render.changes import Changes, ObjectChange
    from render.model import Problem, Production

    Box = tuple[float, float, float, float]


def account(
    names: tuple[str, str], changes: Changes, before: Production, after: Production, box_mm: Box
) -> dict[str, Any]:
    """The changes as values that JSON can hold; `box_mm` is that of the new design.

    Objects and colour blocks count from 1, lengths are mm in the frame of the new design.
    """
    return {
        "old": names[0],
        "new": names[1],
        "moved_mm": [round(way, 2) for way in changes.moved_mm],
        "stitches": {
            "kept": changes.stitches_kept,
            "removed": changes.stitches_removed,
            "added": changes.stitches_added,
        },
        "objects": [_object(one, box_mm) for one in changes.objects],
        "faults_gone": [_fault(one, box_mm) for one in changes.faults_gone],
        "faults_new": [_fault(one, box_mm) for one in changes.faults_new],
        "faults_kept": changes.faults_kept,
        "production": {
            key: {"old": round(old, 1), "new": round(new, 1)}
            for key, old, new in (
                ("run_time_s", before.run_time_s, after.run_time_s),
                ("trims", before.trims, after.trims),
                ("colour_changes", before.colour_changes, after.colour_changes),
                ("needle_thread_m", sum(before.needle_thread_m), sum(after.needle_thread_m)),
                ("bobbin_thread_m", before.bobbin_thread_m, after.bobbin_thread_m),
            )
        },
    }


def _object(one: ObjectChange, box_mm: Box) -> dict[str, Any]:
    part = one.new or one.old
    assert part is not None
    return {
        "old": None if one.old is None else one.old.index + 1,
        "new": None if one.new is None else one.new.index + 1,
        "kind": part.kind,
        "colour_block": part.colour_block + 1,
        "where_mm": [round(at, 2) for at in one.where_mm],
        "where": seen_from_middle(one.where_mm, box_mm),
        "change": one.words,
    }


def _fault(one: Problem, box_mm: Box) -> dict[str, Any]:
    return {
        "kind": one.kind,
        "severity": one.severity,
        "where_mm": [round(at, 2) for at in one.where_mm],
        "where": seen_from_middle(one.where_mm, box_mm),
        "cause": one.cause,
    }


SHOWN = 20  # changes that people see unless they ask for all


def lines(values: dict[str, Any], *, everything: bool = False) -> Iterator[str]:
    """The account as lines for people, small changes left out unless asked for."""
    stitches = values["stitches"]
    yield (
        f"{printable(values['old'])} became {printable(values['new'])}: {stitches['kept']:,} stitches kept, "
        f"{stitches['removed']:,} taken out, {stitches['added']:,} added"
    )
    if any(values["moved_mm"]):
        x, y = values["moved_mm"]
        yield f"as a whole it lies {x:+.1f} mm across and {y:+.1f} mm down from where it lay"
    shown = len(values["objects"]) if everything else SHOWN
    for number, one in enumerate(values["objects"][:shown], 1):
        yield f"{number:>3}  {one['kind']}, block {one['colour_block']}, {one['where']}: {one['change']}"
    if left := len(values["objects"][shown:]):
        yield f"({left} more objects with changes: --all shows them)"
    for key, words in (("faults_gone", "mended"), ("faults_new", "new fault")):
        for one in values[key]:
            kind = one["kind"].replace("-", " ")
            yield f"{words}: {one['severity']} {kind}, {one['where']}: {one['cause']}"
    yield f"{counted(values['faults_kept'], 'finding')} as before"
    for key, figures in values["production"].items():
        old, new = (_FIGURES[key][1](figures[which]) for which in ("old", "new"))
        if old != new:
            yield f"{_FIGURES[key][0]}: {old} became {new}"


def _minutes(seconds: float) -> str:
    whole, rest = divmod(round(seconds), 60)
    return f"{whole}:{rest:02d} min"


def _metres(length_m: float) -> str:
    return f"{length_m:.1f} m"


_FIGURES: dict[str, tuple[str, Callable[[float], str]]] = {
    "run_time_s": ("running time", _minutes),
    "trims": ("trims", str),
    "colour_changes": ("colour changes", str),
    "needle_thread_m": ("needle thread", _metres),
    "bobbin_thread_m": ("bobbin thread", _metres),
}
