"""Which format a file is, the rarer formats, and what is refused and why."""

from __future__ import annotations

import io
import struct
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pyembroidery
import pytest
import stitch_files as files

from render.errors import InputError
from render.model import Command
from render.read import known_formats, read_design
from render.read.decoder import Decoder
from render.read.endings import check_ending

# In the library but no machine file: texts, colour lists, a household stitch, drawings.
REFUSED = {"csv", "json", "gcode", "pmv", "edr", "col", "inf"}


def test_every_format_that_the_library_decodes_to_stitches_is_known() -> None:
    theirs = {
        extension
        for one in pyembroidery.EmbPattern.supported_formats()
        if "reader" in one and one["extension"] not in REFUSED
        for extension in ([one["extensions"]] if isinstance(one["extensions"], str) else one["extensions"])
    }
    ours = [extension for one in known_formats() for extension in one.extensions]
    assert set(ours) == theirs
    assert len(ours) == len(theirs)


def test_format_names_carry_no_brand() -> None:
    assert all(len(one.name) == 3 or one.name == "gt" for one in known_formats())


Z = b"\0"
# Three stitches (1, 0), (1, 2), (4, 2) mm in formats that are only read, built after the
# readers: x right, y down, in 0.1 mm unless the format says otherwise.
RARE: dict[str, bytes] = {
    "10o": bytes((0x00, 0, 10, 0x40, 20, 0, 0x00, 0, 30, 0x87, 0, 0)),
    "100": bytes((0x61, 0, 10, 0, 0x61, 0, 0, 0x80 + 20, 0x61, 0, 30, 0)),
    "bro": Z * 0x100 + bytes((10, 0, 0, 256 - 20, 30, 0, 0x80, 0xE0, 0xE0)),
    "dat": bytes((0x80, 0, 10, 0xC0, 20, 0, 0x80, 0, 30, 0xF8, 0, 0)),
    "dsb": b"LA:x\r".ljust(512) + bytes((0x80, 0, 10, 0xC0, 20, 0, 0x80, 0, 30, 0xF8, 0, 0)),
    "dsz": b"LA:x\r".ljust(512) + bytes((0, 10, 0x80, 20, 0, 0xA0, 0, 30, 0x80, 0, 0, 0x9F)),
    "emd": Z * 0x30 + bytes((10, 0, 0, 256 - 20, 30, 0, 0x80, 0xFD)),
    "e01": Z * 0x100 + files.write("dst", [(10, 0, 0), (10, 20, 0), (40, 20, 0)])[512:],
    "tap": files.write("dst", [(10, 0, 0), (10, 20, 0), (40, 20, 0)])[512:],
    "f01": Z * 0x100 + bytes((0, 10, 0x80, 20, 0, 0xA0, 0, 30, 0x80, 0, 0, 0x9F)),
    "gt": Z * 0x200 + bytes((0, 10, 0x80, 20, 0, 0xA0, 0, 30, 0x80, 0, 0, 0x9F)),
    "inb": Z * 0x2000 + bytes((10, 0, 0, 0, 20, 0x20, 30, 0, 0, 0, 0, 4)),
    "jpx": struct.pack("<I", 0x40) + Z * 0x1C + struct.pack("<I", 1) + Z * 0x18 + struct.pack("<I", 7)
    + bytes((10, 0, 0, 256 - 20, 30, 0, 0x80, 0x10)),
    "ksm": Z * 0x200 + bytes((0, 10, 0, 20, 0, 0x20, 0, 30, 0, 0, 0, 0x88)),
    # Its own unit: 1.235 of ours.
    "max": Z * 0xD5 + struct.pack("<I", 3)
    + b"".join(struct.pack("<iI", x, y)[:3] + Z + struct.pack("<I", y)[:3] + Z
               for x, y in ((8, 0), (8, 16), (32, 16))),
    # Steps of two units, at most 31 of them.
    "mit": bytes((0x20 | 5, 0x60, 0x20, 0xE0 | 10, 0x20 | 15, 0x60)),
    "new": bytes((3, 0, 10, 0, 0, 0, 20, 0x20, 30, 0, 0, 0, 0, 0x11)),
    # 5/3 of our unit, y up.
    **{
        name: bytes((0x32, hoop)) + struct.pack("<H", 1) + b"\xff\0\0\0" + struct.pack("<H", 3)
        + b"".join(Z + struct.pack("<i", x)[:3] + Z + struct.pack("<i", y)[:3] + Z
                   for x, y in ((6, 0), (6, -12), (24, -12)))
        for name, hoop in (("pcd", 0), ("pcq", 1), ("pcs", 2))
    },
    "pcm": Z * 2 + struct.pack(">HHH", 1, 8, 3)
    + b"".join(struct.pack(">i", x)[1:] + Z + struct.pack(">i", y)[1:] + Z + Z
               for x, y in ((6, 0), (6, -12), (24, -12))),
    "spx": Z * 0x11E + b"".join(Z * 2 + struct.pack(">hhb", -dy, dx, 0) + Z * 2
                                for dx, dy in ((10, 0), (0, 20), (30, 0))),
    "stc": Z * 0x28 + bytes((10, 0, 1, 0, 256 - 20, 1, 30, 0, 1, 0, 0, 25)),
    "stx": b"STX".ljust(12, Z) + struct.pack("<III", 0, 0, 24) + bytes((10, 0, 0, 256 - 20, 30, 0)),
    "z01": Z + struct.pack(">H", 0) + bytes((0, 10, 0, 4, 0, 20, 0, 30, 0, 0x20, 0xFF, 0)),
}  # fmt: skip


@pytest.mark.parametrize("name", RARE)
def test_rare_formats_are_read(name: str) -> None:
    design = read_design(RARE[name], name=f"sample.{name}")
    assert design.format == name
    points = design.xy_mm[design.command == Command.STITCH]
    # The formats with units of their own round to them.
    np.testing.assert_allclose(points, [[1, 0], [1, 2], [4, 2]], atol=0.05)
    assert not [note for note in design.notes if "cut off" in note]


@pytest.mark.parametrize("extension", ["dst", "pes", "pec", "jef", "vp3", "xxx", "u01", "tbf"])
def test_content_decides_and_a_wrong_name_is_noted(extension: str) -> None:
    other = "exp" if extension != "exp" else "dst"
    design = read_design(files.write(extension), name=f"sample.{other.upper()}")
    assert design.format == extension
    assert any(f".{other}" in note and extension.upper() in note for note in design.notes)
    assert not read_design(files.write(extension), name=f"sample.{extension}").notes[1:]


@pytest.mark.parametrize(
    ("data", "name", "what"),
    [
        (b"\x89PNG\r\n\x1a\n" + bytes(40), "a.dst", "PNG"),
        (b"\xff\xd8\xff\xe0" + bytes(40), "a.pes", "JPEG"),
        (b"PK\x03\x04" + bytes(40), "a.dst", "ZIP archive"),
        (b"%PDF-1.7\n%\xe2\xe3" + bytes(40), "a.dst", "PDF"),
        (b"GIF89a" + bytes(40), "", "GIF"),
        (b"II*\0" + bytes(40), "a.exp", "TIFF"),
        (b"RIFF\x10\0\0\0WEBPVP8 " + bytes(9), "a.exp", "WebP"),
        (b"BM" + struct.pack("<I", 60) + bytes(54), "a.exp", "BMP"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "a.dst", "SVG"),
        (b"<!DOCTYPE html><p>404 not found</p>", "a.dst", "web page"),
        (b'{"stitches": [[0, 0, 0]]}', "a.json", "JSON"),
        (b"STITCH,0,0\nSTITCH,1,1\n", "a.csv", "table"),
        (b"G0 X1 Y1\nG1 X2 Y2\n", "a.gcode", "milling"),
        (b"#PMV" + bytes(200), "a.pmv", "sewing machine"),
        (b"\xff\0\0\0" * 10, "a.edr", "thread colours"),
        ("Grüße aus der Näherei, hier ist nichts gestickt".encode(), "a.exp", "text file"),
    ],
)
def test_other_files_are_named_for_what_they_are(data: bytes, name: str, what: str) -> None:
    with pytest.raises(InputError, match=what) as caught:
        read_design(data, name=name)
    one_sentence(caught.value)


def one_sentence(problem: InputError) -> None:
    """What, where, and after the colon what to do; one line."""
    text = str(problem)
    assert "\n" not in text
    assert ": " in text
    assert not text.endswith(".")


@pytest.mark.parametrize(
    ("data", "name", "what"),
    [
        (b"", "a.dst", "empty"),
        (bytes(600), "a.pes", "does not begin like one"),
        (bytes((1, 7, 200)) * 60, "", "no extension"),
        (bytes((1, 7, 200)) * 60, "a.doc", r"unknown extension \.doc"),
        (b"LA:x\r".ljust(512) + b"\0\0\xf3", "a.dst", "holds no stitches"),
        (files.write("dst", [(0, 0, files.JUMP), (50, 0, files.JUMP)]), "a.dst", "holds no stitches"),
        (files.write("exp", [(7, 7, 0)] * 20), "a.exp", "in one point"),
        # A code that does not exist, a quarter into the file.
        (
            bytes((1, 1)) * 50 + b"\x80\x55\0\0" + bytes((1, 2)) * 150,
            "a.exp",
            "unknown code at byte 104 of 404",
        ),
    ],
)
def test_what_cannot_be_sewn_is_refused(data: bytes, name: str, what: str) -> None:
    with pytest.raises(InputError, match=what) as caught:
        read_design(data, name=name)
    one_sentence(caught.value)


def test_paths_and_standard_input(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    data = files.write("dst")
    path = tmp_path / "crest.dst"
    path.write_bytes(data)
    by_path, by_text = read_design(path), read_design(str(path))
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(data)))
    piped = read_design("-")
    assert by_path.name == by_text.name == "crest.dst"
    assert piped.name == "standard input"
    assert by_path.sha256 == by_text.sha256 == piped.sha256 == read_design(data).sha256
    assert np.array_equal(by_path.xy_mm, piped.xy_mm)


def test_files_that_cannot_be_opened(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"does not exist: check"):
        read_design(tmp_path / "none.dst")
    with pytest.raises(InputError, match="is a folder"):
        read_design(tmp_path)


def test_exp_is_read_without_a_name_when_its_codes_fit() -> None:
    design = read_design(files.write("exp"))
    assert design.format == "exp"
    assert any("read as EXP" in note for note in design.notes)


def test_the_loose_pattern_of_u01_does_not_catch_other_formats() -> None:
    # Bytes D8 are both a step of -40 in EXP and the end code of U01.
    data = (b"\x28\x00" * 100 + b"\x00\x04" + b"\xd8\x00" * 100 + b"\x00\x04") * 20
    assert read_design(data, name="rows.exp").format == "exp"


def test_same_bytes_same_design() -> None:
    # The library gives some formats random colours; none of them may come through.
    first, second = (read_design(RARE["jpx"], name="a.jpx") for _ in range(2))
    assert first.colours_srgb == second.colours_srgb == (None,)


def test_no_words_of_threads_come_through() -> None:
    pattern = pyembroidery.EmbPattern()
    words = {"description": "QQWORD", "catalog": "QQ0815", "brand": "QQBRAND", "chart": "QQCHART"}
    pattern.add_thread({"color": 0x123456, **words})
    for x, y, command in files.rows(30)[:10]:
        pattern.add_stitch_absolute(command, x, y)
    stream = io.BytesIO()
    pyembroidery.EmbPattern.write_embroidery(files.WRITERS["pes"], pattern, stream, {"version": 6})
    assert b"QQWORD" in stream.getvalue()
    design = read_design(stream.getvalue())
    assert design.colours_srgb == ((0x12 / 255, 0x34 / 255, 0x56 / 255),)
    assert "QQ" not in repr(design)


def test_empty_colour_blocks_are_folded_away() -> None:
    change, stop = b"\x80\x01\0\0", files.STOP
    # EXP: changes at the start, twice in a row, and at the end.
    data = change + b"\5\5\5\5" + change * 2 + b"\5\0\5\0" + change
    design = read_design(data, name="a.exp")
    assert [Command(c).name for c in design.command] == ["STITCH"] * 2 + ["COLOUR_CHANGE"] + ["STITCH"] * 2
    assert design.colours_srgb == (None, None)
    assert any("counted once" in note for note in design.notes)
    # A stop right before a change is that change.
    records = [(0, 0, 0), (9, 0, 0), (9, 0, stop), (9, 0, files.COLOUR_CHANGE), (9, 9, 0), (0, 9, 0)]
    design = read_design(files.write("tbf", records))
    assert design.colours_srgb == ((1, 0, 0), (0, 1, 0))
    assert np.count_nonzero(design.command == Command.COLOUR_CHANGE) == 1
    assert np.count_nonzero(design.command == Command.STOP) == 0


@pytest.mark.parametrize("extension", ["dst", "pes", "pec", "jef", "vp3", "xxx", "u01", "tbf", "hus", "shv"])
def test_a_file_cut_in_half_says_so(extension: str) -> None:
    records = files.rows(300)
    hand = {"hus": files.hus, "shv": files.shv}
    whole = hand[extension](records, (3, 5)) if extension in hand else files.write(extension, records)
    assert not read_design(whole, name=f"a.{extension}").notes
    # Three icons of 228 bytes, or the colours, follow the stitches.
    trailer = {"pes": 684, "pec": 684, "xxx": 94}.get(extension, 0)
    design = read_design(whole[: len(whole) - trailer - 100], name=f"a.{extension}")
    assert any("cut off" in note for note in design.notes)
    assert np.count_nonzero(design.command == Command.STITCH) < 300


def test_colours_that_a_jef_lacks_are_unknown_not_guessed() -> None:
    head = struct.pack("<II", 0x7C, 0x14) + bytes(16) + struct.pack("<II", 1, 0) + bytes(84)
    body = b"\5\5\5\5" + b"\x80\1\0\0" + b"\5\0\5\0" + b"\x80\x10"
    design = read_design(head + struct.pack("<II", 2, 13) + body)
    assert design.format == "jef"
    first, second = design.colours_srgb
    assert first is not None
    assert second is None
    assert "2 colour blocks but 1 thread colours" in design.notes
    # Index 0 is no thread: unknown as well.
    assert read_design(head + struct.pack("<II", 0, 13) + body).colours_srgb == (None, None)


def test_a_design_wider_than_machines_sew_is_noted() -> None:
    wide = files.write("pes", [(x, y, files.STITCH) for x, y in ((0, 0), (2000, 10), (4000, 0), (6010, 10))])
    assert any("601 × 1 mm" in note for note in read_design(wide).notes)
    narrow = files.write(
        "pes", [(x, y, files.STITCH) for x, y in ((0, 0), (2000, 10), (4000, 0), (6000, 10))]
    )
    assert not read_design(narrow).notes


def test_an_unknown_code_late_in_the_file_is_noted_with_its_place() -> None:
    data = bytes((1, 2)) * 150 + b"\x80\x55\0\0" + bytes((1, 1)) * 50
    design = read_design(data, name="a.exp")
    assert len(design.command) == 150
    assert design.notes == ("cut off: unknown code at byte 304, the 100 bytes after it are not drawn",)


def test_damage_after_the_stitches_is_noted() -> None:
    data = files.write("dst")
    with Decoder() as decoder:
        sound = decoder.decode("DstReader", data)
    assert check_ending("dst", data, sound) == ()
    (note,) = check_ending("dst", data, replace(sound, fault="TypeError"))
    assert f"near byte {len(data)}" in note


def test_a_wrong_count_in_the_header_is_noted() -> None:
    data = files.write("dst", files.rows(300))
    at = data.index(b"\rST:") + 4
    design = read_design(data[:at] + b"   9999" + data[at + 7 :])
    assert any("9,999 records" in note for note in design.notes)


@pytest.mark.parametrize("seed", range(12))
def test_noise_named_like_a_stitch_file_is_refused(seed: int) -> None:
    noise = np.random.default_rng(seed).integers(0, 256, 6000, np.uint8).tobytes()
    with pytest.raises(InputError, match="damaged"):
        read_design(noise, name="noise.dst")
