"""Files built to waste time or memory, and the limits that stop them."""

from __future__ import annotations

import os
import struct
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
import stitch_files as files
from clock import processor_seconds
from damage import WHOLE

from render.errors import InputError
from render.model import Command
from render.read import _decode, decoder, read_design
from render.read.decoder import Decoder

try:
    import resource
except ImportError:
    resource = None  # type: ignore[assignment]

SECONDS = 2.0
needs_limits = pytest.mark.skipif(
    not hasattr(resource, "prlimit"), reason="this system cannot limit a process"
)


@pytest.fixture
def clock() -> Iterator[None]:
    start = processor_seconds()
    yield
    # What starts the process and ends it counts here as well; how fast the machine is decides how much.
    assert processor_seconds() - start < 2 * SECONDS


def hus_head(stitches: int, streams: tuple[bytes, bytes, bytes]) -> bytes:
    offsets = (42, 42 + len(streams[0]), 42 + len(streams[0]) + len(streams[1]))
    head = struct.pack("<IIIhhhhIII", 0x00C8AF5B, stitches, 0, 0, 0, 0, 0, *offsets)
    return head + bytes(10) + b"".join(streams)


def without_bits(value: int) -> bytes:
    """Compressed blocks whose every code has no bits: 65,535 values for about 6 bytes."""
    block = f"{65535:016b}" + "0" * 10 + f"{0:09b}{value:09b}" + "0" * 10
    bits = block * 200
    return int(bits, 2).to_bytes(len(bits) // 8, "big")


def wide_tables() -> bytes:
    """Compressed blocks of no values, each with a table of character lengths 20 bits wide."""
    block = f"{0:016b}" + f"{2:05b}" + "111" + "1" * 13 + "001" + f"{0:09b}{0:09b}" + "0" * 10
    bits = block * 3000
    return int(bits, 2).to_bytes(len(bits) // 8, "big")


def jpx(colours: int) -> bytes:
    palette = struct.pack("<I", 7) * colours
    return struct.pack("<I", 0x3C) + bytes(0x1C) + struct.pack("<I", colours) + bytes(0x18) + palette


def vp3_with_length(length: int) -> bytes:
    data = bytearray(files.write("vp3", files.rows(40)))
    at = data.index(b"\0\5\0")
    data[at + 3 : at + 7] = struct.pack(">I", length)
    return bytes(data)


NOTHING = bytes((0x10,)) * 60
REFUSED = {
    # A repeated zero step sends the library's own search for cuts into quadratic time.
    "dst-null-records": (b"LA:x\r".ljust(512) + bytes(1_200_000), "dst", "in one point"),
    "dst-null-jumps": (b"LA:x\r".ljust(512) + b"\0\0\x83" * 400_000 + b"\0\0\xf3", "dst", "no stitches"),
    "jef-null-records": (
        struct.pack("<II", 0x7C, 0x14)
        + bytes(16)
        + struct.pack("<II", 1, 9)
        + bytes(92 - 8)
        + bytes(1_200_000),
        "jef",
        "in one point|500,000",
    ),
    "jef-null-jumps": (
        struct.pack("<II", 0x7C, 0x14)
        + bytes(16)
        + struct.pack("<II", 1, 9)
        + bytes(92)
        + b"\x80\2\0\0" * 300_000,
        "jef",
        "no stitches",
    ),
    "hus-231-bytes": (
        hus_head(10_000_000, (NOTHING, NOTHING, NOTHING + bytes(9))),
        "hus",
        "10,000,000 stitches",
    ),
    "hus-offsets": (hus_head(100, (NOTHING, b"", NOTHING)), "hus", "points outside"),
    "hus-no-bits": (hus_head(250_000, (without_bits(0x80),) * 3), "hus", "over a metre|in one point"),
    "hus-tables": (hus_head(250_000, (wide_tables(),) * 3), "hus", "compression tables"),
    "jpx-colours": (jpx(500_000), "jpx", "512 thread colours"),
    "edr-colours": (b"\xff\0\0\0" * 500_000, "edr", "list of thread colours"),
    "vp3-length-past-the-end": (vp3_with_length(0x7FFFFFFF), "vp3", ""),
    "vp3-length-negative": (vp3_with_length(0xFFFFFFFF), "vp3", ""),
    "exp-stitches": (b"\1\0\xff\0" * 300_000, "exp", "500,000 stitches"),
    "exp-jumps": (b"\x80\4\1\0\x80\4\xff\0" * 300_000, "exp", "500,000 jumps"),
    "exp-changes": (b"\1\1\x80\1\0\0\xff\xff\x80\1\0\0" * 60_000, "exp", "colour blocks"),
    "exp-far": (b"\x7f\0" * 100, "exp", "over a metre"),
    "size": (bytes(4 * 2**20 + 1), "dst", "4 MiB"),
}


def test_the_bombs_are_what_they_claim() -> None:
    assert len(REFUSED["hus-231-bytes"][0]) == 231
    assert len(REFUSED["jef-null-records"][0]) > 1_200_000
    # Without the guard, the tables would be as wide as claimed: 13 + 7 bits.
    assert len(REFUSED["hus-tables"][0]) < 100_000


@pytest.mark.usefixtures("clock")
@pytest.mark.parametrize("name", REFUSED)
def test_bombs_are_refused_in_time(name: str) -> None:
    data, extension, reason = REFUSED[name]
    if reason:
        # A slow machine comes to the limit first, which is as good.
        with pytest.raises(InputError, match=f"{reason}|took more than {SECONDS:g} seconds"):
            read_design(data, name=f"bomb.{extension}")
        return
    try:
        design = read_design(data, name=f"bomb.{extension}")
    except InputError:
        return
    assert design.notes


@pytest.mark.usefixtures("clock")
def test_a_design_of_half_a_million_stitches_is_read_in_time() -> None:
    # The limit itself; a larger one is an argument.
    data = (b"\x28\x00" * 100 + b"\x00\x01" + b"\xd8\x00" * 100 + b"\x00\x01") * 2470
    design = read_design(data, name="large.exp")
    assert (design.command == Command.STITCH).sum() == 2470 * 202
    with pytest.raises(InputError, match="raise --max-stitches"):
        read_design(data, name="large.exp", max_stitches=400_000)


def test_limits_are_arguments() -> None:
    data = b"\1\0\xff\0" * 300_000
    assert len(read_design(data, name="a.exp", max_stitches=600_000).command) == 600_000
    small = files.write("dst")
    with pytest.raises(InputError, match="larger than the limit"):
        read_design(small, max_bytes=500)


@needs_limits
def test_the_process_is_limited_and_stays_small() -> None:
    with Decoder() as running:
        for extension in ("vp3", "exp"):
            reader = {"vp3": "Vp3Reader", "exp": "ExpReader"}[extension]
            running.decode(reader, files.write(extension, files.rows(20_000)))
        soft = resource.prlimit(running.process.pid, resource.RLIMIT_AS)[0]
        assert soft == decoder.MEMORY_BYTES <= 300 * 2**20


@needs_limits
def test_each_file_has_its_own_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """Together they take longer than one may."""
    monkeypatch.setattr(decoder, "CPU_SECONDS", 1)
    data, start = files.write("exp", files.rows(20_000)), processor_seconds()
    with Decoder() as running:
        served = 0
        while _spent(running.process.pid) < 2.5:
            assert running.decode("ExpReader", data).xy.shape[0] >= 20_000
            served += 1
    assert served > 5
    assert processor_seconds() - start > 2.5


def _spent(pid: int) -> float:
    """Processor seconds of a process: the 12th and 13th field after the name in brackets (proc(5))."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


@needs_limits
@pytest.mark.usefixtures("clock")
def test_memory_past_the_limit_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    data = b"\1\0\xff\0" * 240_000
    assert read_design(data, name="a.exp").command.size == 480_000
    monkeypatch.setattr(decoder, "MEMORY_BYTES", 24 * 2**20)
    with pytest.raises(InputError, match=r"memory .* allow it more with --max-stitches 1000000"):
        read_design(data, name="a.exp")


@needs_limits
def test_processor_time_past_the_limit_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(decoder, "CPU_SECONDS", 1)
    start = processor_seconds()
    with Decoder() as running:
        with pytest.raises(InputError, match="given up"):
            running.decode("ZhsReader", bytes(64 * 2**20))
        # Gone by now, and not only soon: the next file would be refused in its place.
        assert running.process.returncode is not None
    assert processor_seconds() - start < 2


def test_the_clock_stops_a_process_anywhere(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(decoder, "WALL_SECONDS", 0.3)
    start = processor_seconds()
    with Decoder() as running, pytest.raises(InputError, match="given up"):
        running.decode("ZhsReader", bytes(32 * 2**20))
    assert processor_seconds() - start < decoder.CPU_SECONDS  # which would have ended it, too, but later


def test_nothing_of_the_users_folder_is_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    trap = f"open({str(tmp_path / 'sprung')!r}, 'w').close()\n"
    for module in ("struct", "array", "sitecustomize", "usercustomize", "pyembroidery"):
        (tmp_path / f"{module}.py").write_text(trap)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    monkeypatch.setenv("PYTHONSTARTUP", str(tmp_path / "struct.py"))
    assert read_design(files.write("dst")).format == "dst"
    assert not (tmp_path / "sprung").exists()
    # The trap works: an ordinary interpreter steps into it.
    subprocess.run([sys.executable, "-c", "import array"], env=os.environ, check=False)
    assert (tmp_path / "sprung").exists()


def test_the_process_loads_one_reader_and_no_numpy() -> None:
    import pyembroidery

    from render.read import _child

    stage = Path(_child.__file__).parent
    folders = [str(Path(pyembroidery.__file__).parent), str(stage.parent), str(stage)]
    probe = (
        "import sys, runpy; child = runpy.run_path(sys.argv[1]);"
        "[child['stand_in'](*one) for one in zip(('pyembroidery', 'render', 'render.read'), sys.argv[2:])];"
        "from render.read._decode import decode; decode('ExpReader', bytes(range(8)), 99);"
        "print(*sorted(m for m in sys.modules if m.startswith(('pyembroidery', 'numpy', 'render'))))"
    )
    run = subprocess.run(
        [sys.executable, "-I", "-S", "-c", probe, _child.__file__, *folders],
        capture_output=True,
        text=True,
        check=True,
    )
    ours = ["render", "render.read", "render.read._decode", "render.read._recorder"]
    library = ["pyembroidery", "pyembroidery.ExpReader", "pyembroidery.ReadHelper"]
    assert run.stdout.split() == library + ours


def test_a_compressed_file_is_read_alike_after_many_others(monkeypatch: pytest.MonkeyPatch) -> None:
    """What one file spends of its room for code tables is not held against the next in the same process."""
    first = _decode.decode("HusReader", WHOLE["hus"], 10_000)
    assert first[0] == _decode.DECODED
    monkeypatch.setattr(_decode, "TABLE_ENTRIES", _decode._guarded_huffman().spent)  # room for just one
    assert {_decode.decode("HusReader", WHOLE["hus"], 10_000) for _ in range(5)} == {first}
