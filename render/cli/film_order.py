"""What `animate` is asked for, and what it refuses at once."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from render.errors import UsageError

if TYPE_CHECKING:
    from render.animation import FilmOrder

MOST_PLAYS = 65_535  # what a GIF has room for


def check_files(output: str | None, sheet: str | None, *, force: bool) -> None:
    """Refuse at once what would be refused after the work."""
    from render.write.files import check_destination
    from render.write.picture import check_picture_name
    from render.write.video import film_format

    if output is None and sheet is None:
        raise UsageError("nothing to make: name a film with -o, or a storyboard with --sheet")
    if output is not None:
        check_destination(output, force=force)
        film_format(output)
    if sheet is not None:
        storyboard = check_destination(sheet, force=force)
        check_picture_name(sheet)
        if output is not None and storyboard == check_destination(output, force=force):
            raise UsageError("film and storyboard cannot be one file: give them two names")


def check_counts(plays: int, moments: int | None, sheet: str | None) -> None:
    """Refuse what no film counts, and moments that are of no storyboard."""
    _at_least(plays, 0, "--plays")
    if plays > MOST_PLAYS:
        raise UsageError(f"--plays {plays} is more than a film counts: give {MOST_PLAYS}, or 0 for ever")
    _at_least(1 if moments is None else moments, 1, "--moments")
    if moments is not None and sheet is None:
        raise UsageError("--moments are those of a storyboard: name one with --sheet")


def _at_least(value: float, least: float, option: str) -> None:
    if not value >= least or value == float("inf"):
        raise UsageError(f"{option} {value:g} makes no film: give {least:g} or more")


def film_order(
    output: str | None,
    size: str,
    fps: float | None,
    *,
    pace: dict[str, float | None],
    hold_s: float,
    caption: bool,
    margin_mm: float,
    **rest: Any,
) -> FilmOrder:
    """What the options ask for. Raises UsageError."""
    from render.animation import FilmOrder, Pace, check_size
    from render.write.video import film_format

    given = {name: value for name, value in pace.items() if value is not None}
    if len(given) > 1:
        raise UsageError("--seconds, --speed and --stitches-per-second each set the pace: give one of them")
    for name, value in given.items():
        _at_least(value, 1e-3, "--" + name.replace("_per_s", "-per-second"))
    _at_least(hold_s, 0.0, "--hold")
    _at_least(margin_mm, 0.0, "--margin-mm")
    form = film_format("storyboard.png" if output is None else output)
    fps = form.usual_fps if fps is None else fps
    _at_least(fps, 0.1, "--fps")
    if fps > form.most_fps:
        raise UsageError(f"--fps {fps:g} is more than this format plays: give {form.most_fps:g} or less")
    size_px = form.sides(*size_of(size))
    check_size(*size_px, caption=caption)
    return FilmOrder(
        size_px=size_px,
        fps=fps,
        pace=Pace(**given, hold_s=hold_s),
        caption=caption,
        margin_mm=margin_mm,
        **rest,
    )


def size_of(text: str) -> tuple[int, int]:
    """Pixels across and down of a size by name or as 720x900. Raises UsageError."""
    from render.animation import SIZES

    if text in SIZES:
        return SIZES[text]
    try:
        cols, rows = (int(side) for side in text.lower().replace("×", "x").split("x"))
    except ValueError:
        raise UsageError(f"--size {text!r} is no size: write {', '.join(SIZES)}, or as 720x900") from None
    return cols, rows
