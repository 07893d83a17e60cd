"""An approved design is known again in any format, and one that differs is not."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from render.errors import InputError
from render.materials.job import make_job
from render.model import Command, Design
from render.proof.account import settings_for
from render.proof.carried import MARK, find_record
from render.proof.fingerprints import canonical_points, fingerprints_of, unpack
from render.proof.verify import read_record, verify
from render.read import read_design
from render.write.stitch_file import encode_stitches

EXAMPLES = Path(__file__).parents[2] / "examples"
FORMATS = ("pes", "dst", "exp", "jef", "vp3")


def small(points: list[tuple[float, float]], commands: list[Command] | None = None) -> Design:
    xy = np.array(points, float)
    command = np.array(commands or [Command.STITCH] * len(xy), np.uint8)
    return Design("small", "dst", xy, command, (), "explicit", False, "0" * 64)


def record(design: Design, settings: dict[str, str] | None = None) -> dict[str, object]:
    return {
        "name": design.name,
        "revision": "",
        "settings": settings or {},
        "fingerprints": {
            name: getattr(fingerprints_of(design), name)
            for name in ("file", "stitches", "points", "halts", "path")
        },
    }


@pytest.mark.parametrize("name", ["crest", "cap-badge", "wordmark", "applique-oar"])
def test_five_formats_have_the_same_stitches_and_five_files(name: str) -> None:
    prints = [fingerprints_of(read_design(str(EXAMPLES / f"{name}.{form}"))) for form in FORMATS]
    # In VP3 some colours of the cap badge lie a tenth of a millimetre off: its writer cuts off halves.
    exact = FORMATS[:-1] if name == "cap-badge" else FORMATS
    assert len({one.stitches for form, one in zip(FORMATS, prints, strict=True) if form in exact}) == 1
    assert len({one.file for one in prints}) == len(FORMATS)
    assert prints[0].file == hashlib.sha256((EXAMPLES / f"{name}.pes").read_bytes()).hexdigest()


def test_the_stitch_fingerprint_is_of_tenths_of_a_millimetre_from_the_corner() -> None:
    points = canonical_points(small([(5.04, -2.0), (6.04, -2.0), (6.04, -2.0), (6.14, 1.0)]))
    assert points.tolist() == [[0, 0], [10, 0], [11, 30]]
    packed = b"".join(value.to_bytes(4, "little", signed=True) for value in (0, 0, 10, 0, 11, 30))
    prints = fingerprints_of(small([(5.04, -2.0), (6.04, -2.0), (6.14, 1.0)]))
    assert prints.stitches == hashlib.sha256(packed).hexdigest()
    assert prints.points == 3
    assert unpack(prints.path, 3).tolist() == points.tolist()


def test_jumps_trims_and_colours_do_not_count_but_halts_are_told() -> None:
    stitch, jump, trim, stop = Command.STITCH, Command.JUMP, Command.TRIM, Command.STOP
    plain = small([(0, 0), (1, 0), (4, 0), (5, 0)])
    jumped = small(
        [(9, 9), (0, 0), (1, 0), (1, 0), (3, 0), (4, 0), (5, 0)],
        [jump, stitch, stitch, trim, jump, stitch, stitch],
    )
    stopped = small([(0, 0), (1, 0), (1, 0), (4, 0), (5, 0)], [stitch, stitch, stop, stitch, stitch])
    assert len({fingerprints_of(one).stitches for one in (plain, jumped, stopped)}) == 1
    assert verify(record(plain), replace(jumped, sha256="1" * 64)).approved
    found = verify(record(stopped), replace(plain, sha256="1" * 64))
    assert not found.approved
    assert found.verdict == "same stitches"
    assert found.differences == ("the proof halts after needle point 2, this file does not",)


def test_the_same_file_and_the_same_stitches_are_approved() -> None:
    design = read_design(str(EXAMPLES / "wordmark.pes"))
    assert verify(record(design), design).verdict == "same file"
    other = verify(record(design), read_design(str(EXAMPLES / "wordmark.dst")))
    assert (other.verdict, other.approved, other.differences) == ("same stitches", True, ())


@pytest.mark.parametrize("name", ["crest", "cap-badge", "wordmark", "applique-oar"])
def test_every_format_is_approved_by_the_proof_of_another(name: str) -> None:
    approved = record(read_design(str(EXAMPLES / f"{name}.pes")))
    for form in ("dst", "exp", "jef", "vp3"):
        found = verify(approved, read_design(str(EXAMPLES / f"{name}.{form}")))
        assert (found.verdict, found.approved) == ("same stitches", True), form


def altered(design: Design, folder: Path, *, at: int, by_mm: float = 0.0, copies: int = 1) -> Design:
    """The design, written and read, with needle point `at` moved, dropped or sewn more than once."""
    record_at = int(np.flatnonzero(design.command == Command.STITCH)[at])
    times = np.ones(len(design.command), int)
    times[record_at] = copies
    xy = design.xy_mm.copy()
    xy[record_at, 0] += by_mm
    path = folder / "altered.dst"
    changed = replace(design, xy_mm=xy.repeat(times, 0), command=design.command.repeat(times))
    path.write_bytes(encode_stitches(changed, "dst"))
    return read_design(str(path))


def test_one_stitch_moved_is_found_and_placed(tmp_path: Path) -> None:
    design = read_design(str(EXAMPLES / "wordmark.dst"))
    found = verify(record(design), altered(design, tmp_path, at=2345, by_mm=0.3))
    assert (found.verdict, found.approved) == ("other stitches", False)
    assert found.differences == (
        f"from needle point 2,346 on, in colour 4: 1 of {fingerprints_of(design).points:,} points lie "
        "elsewhere, by up to 0.3 mm",
    )


def test_one_stitch_left_out_is_found_and_placed(tmp_path: Path) -> None:
    design = read_design(str(EXAMPLES / "wordmark.dst"))
    found = verify(record(design), altered(design, tmp_path, at=2345, copies=0))
    count = fingerprints_of(design).points
    assert not found.approved
    assert found.differences == (
        f"needle points: approved {count:,}, this file {count - 1:,}",
        "from needle point 2,346 on, in colour 4: 1 points of the proof are 0 here; the rest is alike",
    )


@pytest.mark.parametrize("quarter", [1, 2, 3])
@pytest.mark.parametrize("mirrored", [False, True])
def test_turned_and_mirrored_stitches_are_told_from_others(quarter: int, mirrored: bool) -> None:
    design = small([(0, 0), (3, 0), (3, 1), (0.5, 2.2)])
    x, y = design.xy_mm.T
    angle = np.pi / 2 * quarter
    x = -x if mirrored else x
    turned = np.stack([x * np.cos(angle) - y * np.sin(angle), x * np.sin(angle) + y * np.cos(angle)], 1)
    found = verify(record(design), replace(design, xy_mm=turned, sha256="1" * 64))
    assert (found.verdict, found.approved) == ("turned", False)
    assert f"turned by {90 * quarter}°" in found.differences[0]
    assert ("mirrored" in found.differences[0]) == mirrored


def test_changed_settings_are_named() -> None:
    design = read_design(str(EXAMPLES / "wordmark.dst"))
    settings = settings_for(design, make_job())
    assert verify(record(design, settings), design, settings_for(design, make_job())).approved
    other = settings_for(design, make_job(fabric="twill", thread=("2=#ff0000",)), rotate_deg=180)
    found = verify(record(design, settings), design, other)
    assert not found.approved
    told = "\n".join(found.settings)
    assert "fabric: approved pique, now twill" in told
    assert "rotate: approved 0 deg, now 180 deg" in told
    assert "thread 2: " in told
    assert "#ff0000" in told
    assert "thread 1" not in told


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"%PDF-1.7 nothing here",
        f"{MARK}:!!!!:".encode(),
        f"{MARK}:AAAA:".encode(),
        f"{MARK}:e30=:".encode(),  # {}
        f"{MARK}:W10=:".encode(),  # []
        (f"{MARK}:" + "W1tb" * 50_000 + ":").encode(),  # [[[[...
        b"stream\n" + b"\x00" * 100,
    ],
)
def test_what_carries_no_record_is_no_proof(data: bytes) -> None:
    assert find_record(data) is None
    with pytest.raises(InputError, match="carries no record"):
        read_record(data, "x.pdf")
