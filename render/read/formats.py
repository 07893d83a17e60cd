"""The machine formats that can be read, and what each of them can say."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from render.model import TrimRule

Colours = Literal["none", "palette", "exact", "header"]


@dataclass(frozen=True, slots=True)
class StitchFormat:
    """One machine format.

    `name` is its usual extension and `extensions` all of them, lower case without a dot.
    `colours` tells what it knows of threads: nothing, an index into a fixed palette, exact
    colours, or colours only in an extended header. `trim_rule` and `long_stitches_split`
    are those of `render.model.Design`. `stop_is_change`: a stop is written as a colour
    change and cannot be told from one. `reader` is the library's module that decodes it.
    """

    name: str
    extensions: tuple[str, ...]
    reader: str
    colours: Colours
    trim_rule: TrimRule
    long_stitches_split: bool
    stop_is_change: bool = False


def _format(
    extensions: str,
    reader: str,
    colours: Colours,
    trim_rule: TrimRule,
    *,
    split: bool,
    stop_is_change: bool = False,
) -> StitchFormat:
    """A row of the table below; the first extension gives the name."""
    names = tuple(extensions.split())
    return StitchFormat(names[0], names, f"{reader}Reader", colours, trim_rule, split, stop_is_change)


# What the readers of pyembroidery 1.5.1 yield and, for the formats it writes, what its
# writers put in: read off the code and tried. Rows of formats it only reads agree with the
# reader, not yet with machine files. `split` holds where one record moves 12.7 mm or less
# (a byte), so that writers have to take a longer stitch apart. "never" stands for the
# formats of home machines without a code for cuts (from memory); industrial ones without a
# code leave it to the machine. "by-length": machines that read these cut by the length of the jump
# (as their users report: from 3 mm as they come, from 3 to 50 mm as set, or not at all).
FORMATS = (
    _format("dst", "Dst", "header", "inferred", split=True, stop_is_change=True),
    _format("exp", "Exp", "none", "explicit", split=True, stop_is_change=True),
    _format("pes", "Pes", "exact", "every-jump", split=False),
    _format("pec", "Pec", "palette", "every-jump", split=False),
    _format("jef", "Jef", "palette", "by-length", split=True),
    _format("vp3", "Vp3", "exact", "explicit", split=False),
    _format("xxx", "Xxx", "exact", "explicit", split=True, stop_is_change=True),
    _format("hus", "Hus", "palette", "explicit", split=True),
    _format("sew", "Sew", "palette", "never", split=True),
    _format("shv", "Shv", "palette", "never", split=False),
    _format("u01 u00 u02", "U01", "none", "explicit", split=True),
    _format("tbf", "Tbf", "exact", "explicit", split=True),
    _format("10o", "A10o", "none", "explicit", split=False),
    _format("100", "A100", "none", "inferred", split=True),
    _format("bro", "Bro", "none", "inferred", split=True),
    _format("dat", "Dat", "none", "explicit", split=False),
    _format("dsb", "Dsb", "header", "explicit", split=False),
    _format("dsz", "Dsz", "header", "explicit", split=False),
    _format("emd", "Emd", "none", "explicit", split=True),
    _format("e01 e00 e02", "Exy", "none", "inferred", split=True, stop_is_change=True),
    _format("f01 f00 f02", "Fxy", "none", "explicit", split=False),
    _format("gt", "Gt", "none", "explicit", split=False),
    _format("inb", "Inb", "none", "inferred", split=False),
    _format("jpx", "Jpx", "none", "by-length", split=True),
    _format("ksm", "Ksm", "none", "explicit", split=False),
    _format("max", "Max", "none", "never", split=False),
    _format("mit", "Mit", "none", "inferred", split=True),
    _format("new", "New", "none", "inferred", split=False),
    _format("pcd", "Pcd", "exact", "never", split=False),
    _format("pcm", "Pcm", "palette", "never", split=False),
    _format("pcq", "Pcq", "exact", "never", split=False),
    _format("pcs", "Pcs", "exact", "never", split=False),
    _format("phb", "Phb", "palette", "every-jump", split=False),
    _format("phc", "Phc", "palette", "every-jump", split=False),
    _format("spx", "Spx", "none", "never", split=False),
    _format("stc", "Stc", "none", "inferred", split=True),
    _format("stx", "Stx", "none", "explicit", split=True, stop_is_change=True),
    _format("tap", "Tap", "none", "inferred", split=True, stop_is_change=True),
    _format("z01 z00 z02", "Zxy", "none", "inferred", split=False),
    _format("zhs", "Zhs", "exact", "inferred", split=True),
)

BY_NAME = {one.name: one for one in FORMATS}
BY_EXTENSION = {extension: one for one in FORMATS for extension in one.extensions}


def known_formats() -> tuple[StitchFormat, ...]:
    """Every machine format that `read_design` takes, the common ones first."""
    return FORMATS
