"""What the command line asks for: checked, and turned into records."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Any

from render.errors import InputError, UsageError

if TYPE_CHECKING:
    from render.model import Colour, Design, View

LARGEST = 1e6  # no photograph has so many pixels a side
MOST_STITCHES = 100_000_000  # weeks of sewing


def check_output(output: str, *, force: bool, as_json: bool) -> None:
    """Refuse at once what would be refused after a minute's work."""
    from render.write.files import check_destination
    from render.write.picture import check_picture_name

    if output != "-":
        check_destination(output, force=force)
        check_picture_name(output)
    elif as_json:
        raise UsageError("--json and the picture cannot both go to standard output: give -o a file name")
    elif sys.stdout.isatty():
        raise UsageError(
            "a picture would only garble the terminal: give -o a file name, or send it on with |"
        )


def view_of(*, dpi: float | None, width_px: int | None, crop_hoop: str | None, **framing: Any) -> View:
    """How the options frame the picture."""
    from render.model import View

    if dpi is not None and width_px is not None:
        raise UsageError("--dpi and --width-px both set the resolution: give one of them")
    hoop_mm = None
    if crop_hoop is not None:
        try:
            width, height = (float(side) for side in crop_hoop.lower().replace("×", "x").split("x"))
        except ValueError:
            raise UsageError(
                f"--crop-hoop {crop_hoop!r} is no size: write width x height in mm, as 100x120"
            ) from None
        hoop_mm = (width, height)
    return View(dpi=300.0 if dpi is None else dpi, width_px=width_px, hoop_mm=hoop_mm, **framing)


def pairs_of(text: str, option: str, count: int, between: str = ",") -> list[tuple[float, float]]:
    """So many pairs of numbers: places in pixels, or a size. Raises UsageError."""
    try:
        found = [(float(x), float(y)) for x, y in (pair.lower().split(between) for pair in text.split())]
    except ValueError:
        found = []
    if len(found) != count or not all(abs(part) < LARGEST for pair in found for part in pair):
        places = f"{count} places" if count > 1 else "a place"
        what = f"{places} in pixels such as 812,640" if between == "," else "a size in mm such as 90x70"
        raise UsageError(f"{option} {text[:60]!r}: write {what}")
    return found


def colour_of(text: str | None, option: str) -> Colour | None:
    """The colour that an option names, if it was given. Raises UsageError."""
    from render.colour import parse_colour

    try:
        return None if text is None else parse_colour(text)
    except InputError as error:
        raise UsageError(f"{option}: {error}") from None


def read_file(source: str, max_stitches: int | None) -> Design:
    """The stitch file that an argument names; `-` is standard input."""
    from render.read import MAX_BYTES, read_design

    if not source:
        raise UsageError("the name of the stitch file is empty: name one")
    if source == "-" and sys.stdin.isatty():
        raise UsageError("nothing is piped in to read: name a stitch file, or send one with <")
    if max_stitches is None:
        return read_design(source)
    if max_stitches < 1:
        raise UsageError(f"--max-stitches {max_stitches} leaves nothing to draw: give 1 or more")
    if max_stitches > MOST_STITCHES:
        raise UsageError(f"--max-stitches {max_stitches} is past any machine: give {MOST_STITCHES} or fewer")
    # The roomiest formats take up to about this many bytes a stitch (estimate).
    return read_design(source, max_stitches=max_stitches, max_bytes=max(MAX_BYTES, 12 * max_stitches))
