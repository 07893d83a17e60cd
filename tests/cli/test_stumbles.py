"""What goes wrong at a desk, with every command: one sentence, the right exit code, nothing left behind."""

from __future__ import annotations

import errno
import os
import shutil
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from render.cli import run
from render.cli.scene_files import planned, write_sheet
from render.errors import InputError, OutputError, UsageError
from render.write.files import check_destination, whole_file, write_files

# Each command that reads a design and writes a result: its words, where D is the design and O the result.
COMMANDS = {
    "draw": (("draw", "D", "-o", "O"), "png"),
    "animate": (("animate", "D", "-o", "O", "--size", "120x100", "--seconds", "1", "--fps", "5"), "gif"),
    "scene": (("scene", "D", "--on", "polo", "-o", "O"), "png"),
    "inspect": (("inspect", "D", "-o", "O"), "html"),
    "proof": (("proof", "D", "-o", "O"), "pdf"),
    "changes": (("changes", "D", "D", "-o", "O"), "png"),
    "pull": (("pull", "D", "-o", "O"), "png"),
    "compare": (("compare", "D", "--fabrics", "twill,jersey", "-o", "O"), "png"),
}
every_command = pytest.mark.parametrize("command", COMMANDS)


def said(command: str, design: Path, out: Path, capsys: pytest.CaptureFixture[str]) -> tuple[int, str]:
    """Exit code and the one line on standard error."""
    code = run([{"D": str(design), "O": str(out)}.get(word, word) for word in COMMANDS[command][0]])
    lines = [line for line in capsys.readouterr().err.splitlines() if line.strip()]
    assert len(lines) == 1, lines
    assert lines[0].startswith("twillight: ")
    return code, lines[0]


@every_command
def test_a_file_that_is_none(command: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    design, out = tmp_path / "invoice.dst", tmp_path / f"out.{COMMANDS[command][1]}"
    design.write_bytes(b"%PDF-1.7 an invoice that was named .dst by mistake" * 20)
    code, line = said(command, design, out, capsys)
    assert code == 65
    assert "PDF" in line
    assert [path.name for path in tmp_path.iterdir()] == ["invoice.dst"]


@every_command
def test_a_design_that_is_not_there(command: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, line = said(command, tmp_path / "gone.dst", tmp_path / f"out.{COMMANDS[command][1]}", capsys)
    assert code == 65
    assert "gone.dst" in line
    assert not list(tmp_path.iterdir())


@every_command
def test_a_folder_that_is_not_there(
    command: str, dst: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, line = said(command, dst, tmp_path / "none" / f"out.{COMMANDS[command][1]}", capsys)
    assert code == 74
    assert "there is no folder" in line
    assert not list(tmp_path.iterdir())


@every_command
def test_a_result_that_is_there_already(
    command: str, dst: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / f"out.{COMMANDS[command][1]}"
    out.write_bytes(b"signed by the customer")
    code, line = said(command, dst, out, capsys)
    assert code == 2
    assert "--force" in line
    assert out.read_bytes() == b"signed by the customer"


@pytest.mark.skipif(sys.platform != "linux", reason="needs a folder that is closed to everybody")
def test_a_folder_that_takes_no_files_is_told_before_the_work() -> None:
    """Also to who may do anything, as in a container: no file can be made there all the same."""
    with pytest.raises(OutputError, match=r"cannot write /proc/out\.png: no (permission|file can)"):
        check_destination("/proc/out.png")


def test_names_with_spaces_and_in_any_writing(
    dst: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "Otter & Oar – Größe 3 кепка 帽子"
    folder.mkdir()
    design, out = folder / "čap badge (2) #1.dst", folder / "wie genäht 100%.png"
    shutil.copy(dst, design)
    job = folder / "заказ.toml"
    job.write_text('customer = "Otter & Oar"\nfabric = "twill"\n', "utf-8")
    assert run(["draw", str(design), "-o", str(out), "--job", str(job), "--dpi", "40"]) == 0
    assert str(out) in capsys.readouterr().out
    assert {path.name for path in folder.iterdir()} == {design.name, out.name, job.name}


def test_two_that_write_the_same_file_at_once(tmp_path: Path) -> None:
    """The later wins, whole; neither leaves anything beside."""
    target = tmp_path / "out.png"
    with whole_file(target, force=True) as first:
        first.write_bytes(b"first" * 1000)
        with whole_file(target, force=True) as second:
            second.write_bytes(b"second")
            assert first != second
        assert target.read_bytes() == b"second"
    assert target.read_bytes() == b"first" * 1000
    assert [path.name for path in tmp_path.iterdir()] == ["out.png"]


def test_files_that_belong_together_are_all_written_or_none(tmp_path: Path) -> None:
    sheet = tmp_path / "sheet.pdf"
    sheet.write_bytes(b"readings of last week")
    files = {str(tmp_path / "swatch.dst"): b"stitches", str(sheet): b"page"}
    with pytest.raises(UsageError, match=r"sheet\.pdf is there already"):
        write_files(files)
    assert [path.name for path in tmp_path.iterdir()] == [sheet.name]
    write_files(files, force=True)
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == {
        "swatch.dst": b"stitches",
        "sheet.pdf": b"page",
    }


@every_command
def test_a_folder_instead_of_a_file(
    command: str, dst: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / f"out.{COMMANDS[command][1]}").mkdir()
    code, line = said(command, dst, tmp_path / f"out.{COMMANDS[command][1]}", capsys)
    assert code == 74
    assert "is a folder: add a file name to it" in line


def test_what_a_killed_process_left_goes_a_day_later(tmp_path: Path) -> None:
    """Not what another process may be writing at this moment, and nobody else's files."""
    old, fresh, others = (tmp_path / f".{name}.part" for name in ("twillight-0a", "twillight-1b", "download"))
    for path in (old, fresh, others):
        path.write_bytes(b"half")
    for path in (old, others):
        os.utime(path, (time.time() - 25 * 3600,) * 2)
    with whole_file(tmp_path / "out.png") as part:
        part.write_bytes(b"whole")
    assert {path.name for path in tmp_path.iterdir()} == {"out.png", fresh.name, others.name}


TOO_LONG = "x" * 300  # no common file system takes such a name


@every_command
def test_a_name_that_no_file_can_have(
    command: str, dst: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ending = COMMANDS[command][1]
    assert said(command, tmp_path / f"{TOO_LONG}.dst", tmp_path / f"out.{ending}", capsys)[0] == 65
    assert said(command, dst, tmp_path / f"{TOO_LONG}.{ending}", capsys)[0] == 74
    assert not list(tmp_path.iterdir())


def test_a_cloth_whose_name_no_folder_can_have(
    dst: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """As where nobody may look: neither is a folder, and the names of cloths are told."""
    assert run(["draw", str(dst), "-o", str(tmp_path / "o.png"), "--fabric", TOO_LONG]) == 65
    line = capsys.readouterr().err
    assert line.startswith("twillight: there is no fabric 'xxx")
    assert "choose canvas" in line


def test_a_folder_that_may_not_be_looked_through(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    usual = Path.iterdir

    def closed(folder: Path) -> Iterator[Path]:
        if folder == tmp_path:
            raise PermissionError(errno.EACCES, "Permission denied", str(folder))
        return usual(folder)

    monkeypatch.setattr(Path, "iterdir", closed)
    assert run(["inspect", str(tmp_path)]) == 65
    said = capsys.readouterr().err
    assert said == (
        f"twillight: cannot look through the folder {tmp_path} (Permission denied): check the permissions\n"
    )


@pytest.mark.parametrize("name", ["-odd.dst", "-crest.dst", "--help me.dst"])
def test_a_file_whose_name_begins_like_an_option(
    name: str, dst: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    shutil.copy(dst, tmp_path / name)
    assert run(["draw", name, "-o", "out.png", "--dpi", "40"]) == 2
    assert capsys.readouterr().err == (
        f"twillight: {name} is read as an option and not as the file: write ./{name}\n"
    )
    assert run(["draw", f"./{name}", "-o", "out.png", "--dpi", "40"]) == 0


@pytest.mark.parametrize(
    "words",
    [
        ("inspect", "D", "--artwork", "given.png", "-o", "given.png"),
        ("scene", "D", "--photo", "given.png", "--corners", "1,1 90,1 90,90 1,90", "-o", "./given.png"),
        ("scene", "D", "--photo", "p.jpg", "--mask", "given.png", "-o", "given.png"),
        (
            *("fit-thread", "wheel.jpg", "--corners", "1,1 90,1 90,90 1,90", "--paper", "9,9"),
            *("--light", "given.toml", "-o", "given.toml"),
        ),
        ("fit", "r.csv", "--fabric", "marl", "-o", "marl/fabric.toml"),
    ],
)
def test_a_result_that_would_replace_what_it_is_made_from(
    words: tuple[str, ...],
    dst: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "marl").mkdir()
    given = [tmp_path / name for name in ("given.png", "given.toml", "marl/fabric.toml")]
    for path in given:
        path.write_bytes(b"the only copy")
    assert run([str(dst) if word == "D" else word for word in words] + ["--force"]) == 2
    assert f"{words[-1]} is what the result would be made from" in capsys.readouterr().err
    assert {path.read_bytes() for path in given} == {b"the only copy"}


def test_pictures_of_a_scene_that_cannot_be_written_are_told_before_any_is_drawn(tmp_path: Path) -> None:
    (tmp_path / "out-tote.jpg").mkdir()
    with pytest.raises(OutputError, match=r"out-tote\.jpg is a folder"):
        planned(str(tmp_path / "out.jpg"), ["polo", "tote"], (), force=False)
    with pytest.raises(OutputError, match="name too long"):
        planned(str(tmp_path / f"{'x' * 250}.jpg"), ["polo", "tote"], (), force=False)


def test_what_is_kept_for_a_sheet_and_is_no_picture_is_named(tmp_path: Path) -> None:
    plan = planned(str(tmp_path / "out.jpg"), ["polo", "tote"], (), force=False)
    for one in plan:
        one.file.write_bytes(b"half of a picture that something else left here")
    with pytest.raises(InputError, match=r"out-polo\.jpg was there already and is no whole picture"):
        write_sheet(str(tmp_path / "out.jpg"), "crest", plan, force=False)
    assert not (tmp_path / "out.jpg").exists()


def test_no_room_for_what_is_kept_between_runs(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def full() -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("render.choices.CHOICES", {"fabrics": full})
    assert run(["list", "fabrics"]) == 74
    line = capsys.readouterr().err
    assert line.startswith("twillight: there is no room on the disk to keep compiled kernels")
    assert "NUMBA_CACHE_DIR" in line


def test_nowhere_to_keep_kernels(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """As in a container in which nothing can be written; numba's own error is what is recognised."""

    def compiled() -> None:
        import numba

        names: dict[str, Callable[[], None]] = {}
        exec("def kernel(): pass", names)  # a function of no file, which has no folder, either
        numba.njit(cache=True)(names["kernel"])

    monkeypatch.setattr("render.choices.CHOICES", {"fabrics": compiled})
    assert run(["list", "fabrics"]) == 74
    assert capsys.readouterr().err == (
        "twillight: there is no folder that can be written, to keep compiled kernels in: "
        "name one in NUMBA_CACHE_DIR\n"
    )


def test_a_font_that_is_missing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def none() -> None:
        (tmp_path / "DejaVuSans.ttf").read_bytes()

    monkeypatch.setattr("render.choices.CHOICES", {"fabrics": none})
    assert run(["list", "fabrics"]) == 70
    line = capsys.readouterr().err
    assert line.startswith("twillight: a font of twillight's own is missing: install it again (")
    assert line.count("\n") == 1
