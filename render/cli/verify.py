"""`twillight verify`: is this file the design that was approved?"""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import TYPE_CHECKING, Annotated, Any

import typer

from render.asked import read_file
from render.cli.options import (
    AsJson,
    Debug,
    DesignFile,
    FabricColour,
    FabricName,
    JobFile,
    MaxStitches,
    Mirror,
    Rotate,
    StabiliserName,
    ThreadColours,
    ThreadsFile,
)
from render.cli.say import standard_output
from render.words import printable

if TYPE_CHECKING:
    from collections.abc import Iterator

    from render.proof.verify import Check


MOST_MB = 100  # a proof has under 5; mail programs and scanners may add to it


def verify(
    proof: Annotated[str, typer.Argument(metavar="PROOF", help="The proof that was signed: .pdf or .html.")],
    design: DesignFile,
    job: JobFile = None,
    fabric: FabricName = None,
    fabric_colour: FabricColour = None,
    threads: ThreadsFile = None,
    thread: ThreadColours = None,
    stabiliser: StabiliserName = None,
    rotate: Rotate = 0.0,
    mirror: Mirror = False,
    max_stitches: MaxStitches = None,
    as_json: AsJson = False,
    debug: Debug = False,
) -> None:
    """Say whether DESIGN is what PROOF was signed for.

    And what differs, if not. The stitches count, not the format. With a job, or any option of one,
    cloth and threads are compared, too. The exit code is 1 where something differs.
    """
    from render.materials.own_file import read_bytes
    from render.proof.verify import read_record
    from render.proof.verify import verify as hold_against

    record = read_record(read_bytes(proof, "proof", most_mb=MOST_MB), proof)
    stitch_file = read_file(design, max_stitches)
    choices: dict[str, Any] = {
        "fabric": fabric,
        "fabric_colour": fabric_colour,
        "threads": threads,
        "thread": tuple(thread or ()),
        "stabiliser": stabiliser,
    }
    settings = None
    if job is not None or rotate or mirror or any(choices.values()):
        from render.materials.job import make_job
        from render.proof.account import settings_for

        settings = settings_for(stitch_file, make_job(job, **choices), rotate_deg=rotate, mirror=mirror)
    found = hold_against(record, stitch_file, settings)
    with standard_output():
        if as_json:
            print(json.dumps(asdict(found), ensure_ascii=False, indent=2))
        else:
            print("\n".join(map(shown_line, lines(found))))
    if not found.approved:
        raise typer.Exit(1)


def shown_line(line: str) -> str:
    """A line without signs that steer a terminal: anybody may have written the record."""
    return line[: len(line) - len(line.lstrip())] + printable(line)


def lines(found: Check) -> Iterator[str]:
    """What came out, for people."""
    revision = f", revision {found.revision}" if found.revision else ""
    about = f"the proof of {found.proof_name}{revision}"
    if found.verdict == "same file":
        yield f"yes: this is the very file of {about}"
    elif found.verdict == "same stitches" and not found.differences:
        yield f"yes: these are the stitches of {about}, in another file"
    elif found.verdict == "same stitches":
        yield f"not quite: the stitches are those of {about}, but the machine halts elsewhere"
    elif found.verdict == "turned":
        yield f"not quite: these are the stitches of {about}, turned"
    else:
        yield f"no: this is not the design of {about}"
    yield from (f"  {one}" for one in found.differences)
    if found.settings:
        yield "the settings are not those of the proof:"
        yield from (f"  {one}" for one in found.settings)
