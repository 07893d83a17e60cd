"""What `inspect --waive` writes: findings that are meant so, into the job file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from render.cli.say import standard_output
from render.errors import UsageError

if TYPE_CHECKING:
    from render.inspection import Report


def save_waivers(report: Report, job: str, numbers: list[int], why: str, *, as_json: bool) -> None:
    """Add the findings of these numbers to the job file as meant so; a job that is not there begins so."""
    from render.materials.waivers import waiver_text
    from render.write.files import write_file

    problems = report.found.problems
    for number in numbers:
        if not 1 <= number <= len(problems):
            raise UsageError(f"there is no finding {number} to waive: there are {len(problems)}")
    added = [waiver_text(problems[n - 1].kind, problems[n - 1].where_mm, why) for n in numbers]
    old = Path(job).read_bytes() if Path(job).exists() else b""
    write_file(old + "".join(added).encode("utf-8"), job, force=True)
    if not as_json:
        with standard_output():
            print(f"{job}: now says what is meant so; inspect with --job {job} from now on")
