"""The inspection as one HTML file that needs nothing else: pictures inside, no scripts."""

from __future__ import annotations

import base64
from html import escape
from typing import TYPE_CHECKING, Any

from render.inspection.account import order_line, production_line
from render.inspection.maps import TITLES, map_strips
from render.inspection.sheet import CARDS, insets_of, marked_picture, worth_a_mark
from render.model import Picture
from render.words import first_up, printable
from render.write.picture import encode_picture

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    import numpy as np
    from numpy.typing import NDArray

    from render.inspection import Report
    from render.inspection.maps import MapName
    from render.model import Job

_STYLE = """
body { margin: 2rem auto; max-width: 62rem; padding: 0 1rem; background: #fbfaf7; color: #1f2126;
  font: 1rem/1.45 system-ui, sans-serif; }
h1 { font-size: 1.7rem; margin-bottom: .2rem; }
img { max-width: 100%; height: auto; display: block; }
ol { list-style: none; padding: 0; }
li { display: flex; flex-wrap: wrap; gap: 1rem; margin: 0 0 1.6rem; }
li img { width: 15rem; }
li div { flex: 1 1 18rem; }
h2 { font-size: 1.1rem; margin: 0 0 .2rem; }
.number { display: inline-block; min-width: 1.7rem; line-height: 1.7rem; border-radius: 1rem;
  text-align: center; margin-right: .5rem; border: 2px solid; }
.fix .number { background: #bd2b1a; border-color: #bd2b1a; color: #fff; }
.check .number, .note .number { color: #1a5499; border-color: #1a5499; background: #fff; }
.remedy { font-weight: bold; }
p { margin: .3rem 0; }
"""
# Nothing runs and nothing is fetched, whatever a page came to hold.
_POLICY = "default-src 'none'; img-src data:; style-src 'unsafe-inline'"
_LEVELS = {"fix": "must be mended", "check": "look at it on a sewn sample", "note": "for the record"}


def report_html(report: Report, job: Job, maps: Sequence[MapName] = ()) -> str:
    """The page as text."""
    values = report.account
    shown = worth_a_mark(report.found.problems)
    title = f"{printable(values['name'])} on {values['fabric']}"
    whole = _image(marked_picture(report.ready, job, shown), "the piece as it will look sewn, with marks")
    near = list(insets_of(report.ready, job, shown[:CARDS]))
    pictures = {number: _image(pixels, "from near") for (number, _), pixels in zip(shown, near, strict=False)}
    body = [
        f"<h1>{escape(first_up(values['verdict']))}</h1>",
        f"<p>{escape(title)}. Simulated preview.</p>",
        whole,
        "<ol>",
        *_items(values["problems"], pictures),
        "</ol>",
        f"<p>{escape(first_up(production_line(values['production'])))}</p>",
        *([f"<p>{escape(first_up(order_line(values['order'])))}</p>"] if "order" in values else []),
        *_artwork(values),
        *_maps(report, job, maps),
        *(f"<p>{escape(caution)}</p>" for caution in values["cautions"]),
    ]
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n<style>{_STYLE}</style>\n</head>\n<body>\n"
        + "\n".join(body)
        + "\n</body>\n</html>\n"
    )


def _items(problems: list[dict[str, Any]], pictures: dict[int, str]) -> Iterator[str]:
    for number, one in enumerate(problems, 1):
        size = "" if one["size_mm"] is None else f", {one['size_mm']:.2g} mm"
        name = first_up(one["kind"].replace("-", " "))
        about = f"{_LEVELS[one['severity']]}; {one['where']}, block {one['colour_block']}"
        yield (
            f'<li class="{one["severity"]}">{pictures.get(number, "")}<div>'
            f'<h2><span class="number">{number}</span>{escape(name + size)}</h2>'
            f"<p>{escape(about)}</p><p>{escape(one['cause'])}</p>"
            f'<p class="remedy">{escape(one["remedy"])}</p></div></li>'
        )


def _maps(report: Report, job: Job, names: Sequence[MapName]) -> Iterator[str]:
    strips = list(map_strips(report.ready, report.piece, job, names))
    for name, strip in zip(names, strips[1::2], strict=True):
        yield f"<h2>{escape(TITLES[name])}</h2>"
        yield _image(strip, f"map of the {name}")


def _artwork(values: dict[str, Any]) -> Iterator[str]:
    if "artwork" in values:
        yield f"<h2>{escape(first_up(values['artwork']['verdict']))}</h2>"
        yield from (f"<p>{escape(one['words'])}</p>" for one in values["artwork"]["findings"])


def _image(pixels: NDArray[np.uint8], alt: str) -> str:
    data = base64.b64encode(encode_picture(Picture(pixels, 96.0), "JPEG")).decode("ascii")
    rows, cols = pixels.shape[:2]
    return f'<img src="data:image/jpeg;base64,{data}" alt="{alt}" width="{cols}" height="{rows}">'
