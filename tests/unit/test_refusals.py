"""What is refused with a sentence and stands in no other test: each names what is wrong and where."""

from __future__ import annotations

import base64
import json
import struct
import zlib
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from inspect_pieces import inspected
from plan_pieces import path_running, straight
from stitch_files import write

from render.asked import read_file, view_of
from render.errors import InputError, UsageError
from render.inspect import inspect
from render.inspect.limits import limits_for
from render.inspection import report_on
from render.materials.fabrics import load_fabric
from render.materials.job import make_job
from render.materials.machines import load_machine
from render.materials.own_file import read_toml
from render.materials.stabilisers import load_hoop, make_holding
from render.materials.threads import make_thread, threads_from_rows
from render.materials.waivers import waiver_text, waivers_from_rows
from render.model import Command
from render.plan import plan
from render.proof import make_proof
from render.proof.carried import find_record
from render.proof.fingerprints import pack, unpack
from render.read import read_design
from render.scene.photo.placing import place_of
from render.scene.photo.reading import read_photo
from render.scene.sets import load_colour_sets

WAIVED = {"kind": "gap"}


@pytest.mark.parametrize(
    ("data", "what"),
    [
        (b"\0\0\0\x18ftypmp42" + bytes(40), "a video or an HEIF picture"),
        (b"MZ".ljust(0x3C) + struct.pack("<I", 64) + b"PE\0\0" + bytes(40), "a program"),
        (b'<?xml version="1.0"?><order/>', "an XML document"),
        (b' {"order": 2041}', "a JSON text"),
    ],
)
def test_files_that_are_no_stitch_files_are_called_what_they_are(data: bytes, what: str) -> None:
    with pytest.raises(InputError, match=what):
        read_design(data, name="crest.dst")


def test_a_python_that_may_not_be_started_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As where it lies in a folder that the user may not enter; each file is decoded by one of its own."""
    monkeypatch.setattr("sys.executable", str(tmp_path / "python3"))
    with pytest.raises(InputError, match=r"crest\.dst cannot be read: a second .*python3 .* started"):
        read_design(write("dst"), name="crest.dst")


@pytest.mark.parametrize(
    ("rows", "reason"),
    [
        ({"kind": "gap"}, r"write each waiver as a \[\[waive\]\] table"),
        ([{"why": "meant"}], "waive 1: say of which kind the finding is"),
        ([{"kind": 3}], "waive 1: kind must be text in quotes"),
        ([WAIVED | {"why": 3}], "waive 1: why must be text in quotes"),
        ([WAIVED, WAIVED | {"where_mm": 3}], r"waive 2: where_mm must be \[x, y\]"),
        ([WAIVED | {"where_mm": [1, 5000]}], "where_mm must be a number from -1000 to 1000"),
        ([WAIVED | {"at": 3}], "'at' is not known here"),
    ],
)
def test_waivers(rows: object, reason: str) -> None:
    with pytest.raises(InputError, match=reason):
        waivers_from_rows(rows, "crest.job.toml")


def test_a_waiver_of_what_there_is_not_is_refused_before_anything_is_sewn(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    piece = inspected(path_running(straight(30), 2.5))
    waivers = waivers_from_rows([WAIVED, {"kind": "hole"}], "crest.job.toml")
    job = replace(piece.job, waivers=waivers)
    for sewing in ("render.inspection.sew_design", "render.proof.plan_design"):
        monkeypatch.setattr(sewing, None)
    design = read_design(write("dst"))
    for ask in (
        lambda: inspect(replace(piece, job=job)),
        lambda: report_on(design, job),
        lambda: make_proof(design, job),
    ):
        with pytest.raises(InputError, match=r"waives 'hole', which is no kind of problem: .*repeated-hole"):
            ask()


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("[all]\nshort_fix_mm = 'little'", "short_fix_mm must be a number"),
        ("[most]\nshort_fix_mm = 1", "'most' is not known here"),
        ("all = 3", "all must be a table"),
        ("[group.rib]\nshort_fix_mm = 1", "rib. is not known here"),
    ],
)
def test_limits_of_ones_own(text: str, reason: str, tmp_path: Path) -> None:
    (tmp_path / "limits.toml").write_text(text)
    with pytest.raises(InputError, match=reason):
        limits_for(load_fabric("twill"), make_thread((0.1, 0.2, 0.3)), str(tmp_path / "limits.toml"))


def test_what_a_shop_writes_and_types() -> None:
    hoop = load_hoop("square-100")
    with pytest.raises(InputError, match=r"shine is a table, \[thread\.shine\]"):
        threads_from_rows([{"colour": "navy", "shine": "much"}], "crest.threads.toml")
    with pytest.raises(UsageError, match="cloth that is floated needs a stabiliser"):
        make_holding(load_fabric("twill"), stabiliser="none", held="floated", hoop=hoop)
    with pytest.raises(UsageError, match="9 N is none a gauge reads"):
        make_holding(load_fabric("twill"), gauge_n=9.0, hoop=hoop)
    with pytest.raises(InputError, match=r"the corner shop: corners_px: write two numbers such as"):
        place_of({"corners_px": [1, 2, 3, 4]}, "the corner shop")
    with pytest.raises(UsageError, match="--dpi and --width-px both set the resolution"):
        view_of(dpi=300.0, width_px=900, crop_hoop=None)
    with pytest.raises(UsageError, match="the name of the stitch file is empty"):
        read_file("", None)
    with pytest.raises(InputError, match="the name of the job file is empty"):
        read_toml("", "job")
    with pytest.raises(UsageError, match="cannot be rotated by nan degrees"):
        plan(read_design(write("dst")), load_machine("unknown"), rotate_deg=float("nan"))


def test_a_block_named_by_a_sign_that_is_no_number(tmp_path: Path) -> None:
    (tmp_path / "sets.toml").write_text("[[set]]\nname = 'sand'\nthreads = { \"²\" = 'navy' }\n", "utf-8")
    with pytest.raises(InputError, match="threads names colour blocks from 1, not '²'"):
        load_colour_sets(str(tmp_path / "sets.toml"))


@pytest.mark.parametrize("why", ["meant 😀", 'a "quote" \\ and \x7f', "a name that is no text: \udcff"])
def test_a_waiver_can_be_read_again_whatever_was_typed(why: str, tmp_path: Path) -> None:
    job = tmp_path / "job.toml"
    job.write_text(waiver_text("gap", (1.0, 2.0), why), "utf-8")
    (waiver,) = make_job(str(job)).waivers
    assert waiver.why == why.replace("\udcff", "?")


def test_switches_of_a_job_are_true_or_false(tmp_path: Path) -> None:
    (tmp_path / "job.toml").write_text("in_hoop = 'no'")
    with pytest.raises(InputError, match=r"job\.toml: in_hoop must be true or false, not 'no'"):
        make_job(str(tmp_path / "job.toml"))


def test_photos_too_large_are_not_opened(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from PIL import Image

    Image.new("RGB", (300, 200)).save(tmp_path / "shirt.png")
    monkeypatch.setattr("render.scene.photo.reading.MOST_PIXELS", 50_000)
    with pytest.raises(InputError, match="has 300 x 200 pixels"):
        read_photo(str(tmp_path / "shirt.png"))
    monkeypatch.setattr("render.scene.photo.reading.MOST_BYTES", 100)
    with pytest.raises(InputError, match="save a smaller one"):
        read_photo(str(tmp_path / "shirt.png"))


def test_packed_points_that_are_damaged() -> None:
    packed = pack(np.array([[1, 2], [3, 4]], np.int32))
    assert unpack(packed, 2).tolist() == [[1, 2], [3, 4]]
    for text, count in ((packed, 3), (packed, -1), (packed, 10**9), ("AAAA", 2)):
        with pytest.raises(ValueError, match=r"points|data|header"):
            unpack(text, count)


def test_a_record_without_needle_points_is_none() -> None:
    prints = {
        "file": "a",
        "stitches": "b",
        "points": 0,
        "halts": [],
        "path": pack(np.zeros((0, 2), np.int32)),
    }
    record = {"version": 1, "name": "", "revision": "", "stitches": 3, "settings": {}, "fingerprints": prints}
    record |= {"width_mm": 1.0, "height_mm": 1.0}
    packed = base64.b64encode(json.dumps(record).encode()).decode()
    assert find_record(f"twillight-record:{packed}:".encode()) is None


def test_a_proof_that_unpacks_without_end_is_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    """Streams are unpacked one at a time, and only so many bytes of them."""
    seen: list[bytes] = []
    monkeypatch.setattr("render.proof.carried.MOST_UNPACKED_BYTES", 3_000_000)
    monkeypatch.setattr(
        "render.proof.carried._CARRIED", SimpleNamespace(search=lambda data: seen.append(data))
    )
    stream = b"stream\r\n" + zlib.compress(bytes(1_000_000)) + b"\nendstream\n"
    assert find_record(200 * stream) is None
    assert [len(data) for data in seen[1:]] == [1_000_000] * 3


def test_an_order_that_nobody_sews_is_told_before_anything_is_sewn(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("render.inspection.sew_design", None)
    design = read_design(write("dst"))
    for quantity, heads, reason in (
        (0, 1, "at least one piece"),
        (10**400, 1, "more than"),
        (1, -1, "one head"),
    ):
        with pytest.raises(UsageError, match=reason):
            report_on(design, make_job(), quantity=quantity, heads=heads)
    with pytest.raises(InputError, match="cannot read the limits file nowhere"):
        report_on(design, make_job(), limits="nowhere.toml")


def test_a_machine_that_cuts_at_its_codes_only_drags_the_rest() -> None:
    """DST has no code for a trim; a machine with a trimmer that counts no jumps leaves them."""
    machine = replace(load_machine("multi-needle"), trims_after_jumps=None, trimmer=True)
    design = read_design(write("dst"))
    jumps = replace(
        design, command=np.where(np.arange(len(design.command)) == 3, Command.JUMP, design.command)
    )
    (travel, *_) = plan(jumps, machine).travels
    assert (travel.cut, travel.reason) == ("no", "the machine cuts at trim codes only")
