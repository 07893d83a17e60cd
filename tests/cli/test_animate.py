"""`twillight animate`: films and storyboards as asked for, and what it refuses."""

from __future__ import annotations

import json
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from render.animation import FilmOrder
from render.cli import run
from render.errors import UsageError
from render.model import Design, Job

QUICK = ["--as-programmed", "--size", "64x48", "--fps", "4", "--seconds", "3", "--hold", "0.5"]


def animate(*arguments: str | Path) -> int:
    return run(["animate", *map(str, arguments)])


def facts(path: Path) -> tuple[tuple[int, int], int, float]:
    """Size, frames shown and length in seconds, by readers that did not write the file."""
    if path.suffix in (".mp4", ".webm"):
        av = pytest.importorskip("av")
        with av.open(str(path)) as container:
            stream = container.streams.video[0]
            shown = [frame.to_ndarray(format="rgb24") for frame in container.decode(stream)]
            return shown[0].shape[1::-1], len(shown), container.duration / av.time_base
    with Image.open(path) as image:
        lasts_ms = 0.0
        for number in range(getattr(image, "n_frames", 1)):
            image.seek(number)
            lasts_ms += image.info["duration"]
        return image.size, number + 1, lasts_ms / 1000


@pytest.mark.parametrize("suffix", ["mp4", "webm", "gif", "png"])
def test_each_format_has_the_stated_frames_length_and_size(
    dst: Path, tmp_path: Path, suffix: str, capsys: pytest.CaptureFixture[str]
) -> None:
    if suffix in ("mp4", "webm"):
        pytest.importorskip("imageio_ffmpeg")
    out = tmp_path / f"film.{suffix}"
    assert animate(dst, "-o", out, *QUICK, "--json") == 0
    said = json.loads(capsys.readouterr().out)["film"]
    assert (said["width_px"], said["height_px"], said["frames"], said["seconds"]) == (64, 48, 12, 3.0)
    size, frames, seconds = facts(out)
    assert size == (64, 48)
    assert seconds == pytest.approx(3.0, abs=0.005)
    # Pictures that are alike are one that is shown longer, where the format can say so.
    assert frames == 12 if suffix in ("mp4", "webm") else 6 <= frames <= 12
    assert [path.name for path in tmp_path.iterdir()] == [out.name]


def told(capsys: pytest.CaptureFixture[str], *arguments: str | Path) -> dict[str, float]:
    assert animate(*arguments, "--json") == 0
    film: dict[str, float] = json.loads(capsys.readouterr().out)["film"]
    return film


def test_pace_by_the_machine_by_stitches_or_by_length(
    dst: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "film.gif"
    base = [dst, "-o", out, "--force", "--as-programmed", "--size", "32x24", "--hold", "0", "--fps", "5"]
    assert told(capsys, *base, "--seconds", "2.4")["frames"] == 12
    # 147 stitches after 0.4 s of bare cloth, and a pause for the thread and the change of colour.
    by_stitches = told(capsys, *base, "--stitches-per-second", "70")
    assert by_stitches["seconds"] == pytest.approx(0.4 + 147 / 70 + 0.1 + 0.5, abs=0.21)
    at_machine = json.loads(_said(capsys, *base, "--speed", "40"))
    assert at_machine["film"]["seconds"] == pytest.approx(0.4 + at_machine["machine_s"] / 40, abs=0.15)


def _said(capsys: pytest.CaptureFixture[str], *arguments: str | Path) -> str:
    assert animate(*arguments, "--json") == 0
    return capsys.readouterr().out


def test_part_of_the_design_with_needle_and_caption(dst: Path, tmp_path: Path) -> None:
    plain, laid_over = tmp_path / "plain.png", tmp_path / "over.png"
    part = ["--from", "20", "--to", "60", *QUICK]
    assert animate(dst, "-o", plain, *part) == 0
    assert animate(dst, "-o", laid_over, *part, "--needle") == 0
    pictures = []
    for path in (plain, laid_over):
        with Image.open(path) as image:
            pictures.append(
                [np.array(image.convert("RGB")) for n in range(image.n_frames) if not image.seek(n)]
            )
    assert (pictures[0][0] != pictures[1][0]).any()
    assert np.array_equal(pictures[0][-1], pictures[1][-1])


@pytest.mark.parametrize(("name", "size"), [("phone", (1080, 1920)), ("wide", (1920, 1080))])
def test_sizes_by_name(name: str, size: tuple[int, int]) -> None:
    from render.cli.film_order import size_of

    assert size_of(name) == size


def test_storyboard(dst: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sheet = tmp_path / "sheet.png"
    assert animate(dst, "--sheet", sheet, "--moments", "2", "--as-programmed", "--json") == 0
    said = json.loads(capsys.readouterr().out)["sheet"]
    assert [moment["stitches"] for moment in said["moments"]] == [74, 147]
    with Image.open(sheet) as image:
        assert image.width == 1800


def test_a_storyboard_of_too_many_moments_is_refused_before_the_film_is_made(
    dst: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    film, sheet = tmp_path / "film.gif", tmp_path / "moments.png"
    assert animate(dst, "-o", film, "--sheet", sheet, "--moments", "100000", "--as-programmed") == 2
    said = capsys.readouterr().err
    assert said.startswith("twillight: a storyboard of 14")
    assert "show 99 or fewer with --moments" in said
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        ([], 2, "nothing to make"),
        (["-o", "film.avi"], 2, "names no film"),
        (["-o", "moments.jpg"], 2, "or name a storyboard with --sheet"),
        (["-o", "x.gif", "--moments", "3"], 2, "--moments are those of a storyboard: name one with --sheet"),
        (["-o", "film.gif", "--seconds", "3", "--speed", "2"], 2, "give one of them"),
        (["-o", "film.gif", "--seconds", "1"], 2, "leaves no time to sew"),
        (["-o", "film.gif", "--fps", "60"], 2, "--fps 60"),
        (["-o", "film.gif", "--size", "large"], 2, "is no size"),
        (["-o", "film.gif", "--from", "90", "--to", "80"], 2, "--from and --to"),
        (["-o", "film.gif", "--from", "0"], 2, "--from and --to"),
        (["-o", "film.gif", "--to", "0"], 2, "--from and --to"),
        (["-o", "film.gif", "--plays", "65536"], 2, "--plays 65536 is more than a film counts"),
        (["-o", "film.gif", "--hold", "-1"], 2, "--hold"),
        (["-o", "film.gif", "--hold", "1e9"], 2, "or a shorter --hold"),
        (["-o", "film.gif", "--margin-mm", "nan"], 2, "--margin-mm nan"),
        (["-o", "film.gif", "--size", "9x9"], 2, "a film of 9 x 9 pixels cannot be made"),
        (["-o", "film.gif", "--size", "90x64", "--caption"], 2, "has no room for a caption"),
        (["-o", "film.png", "--sheet", "film.png"], 2, "cannot be one file"),
        (["-o", "nowhere/film.gif"], 74, "no folder"),
        (["-o", "there.gif"], 2, "--force"),
    ],
)
def test_what_makes_no_sense_is_one_sentence_and_no_file(
    dst: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    arguments: list[str],
    code: int,
    words: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "there.gif").write_bytes(b"mine")
    assert animate(dst, *arguments, "--as-programmed") == code
    said = capsys.readouterr().err
    assert words in said
    assert said.count("\n") == 1
    assert [path.name for path in tmp_path.iterdir()] == ["there.gif"]
    assert (tmp_path / "there.gif").read_bytes() == b"mine"


def test_without_an_encoder_it_says_what_to_install(
    dst: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setitem(sys.modules, "imageio_ffmpeg", None)
    assert animate(dst, "-o", tmp_path / "film.mp4") == 2
    assert "pip install imageio-ffmpeg" in capsys.readouterr().err


@pytest.mark.parametrize(("options", "in_hoop"), [([], False), (["--in-hoop"], True)])
def test_the_piece_is_released_unless_it_is_to_stay(
    dst: Path, monkeypatch: pytest.MonkeyPatch, options: list[str], in_hoop: bool
) -> None:
    asked = []

    def stop(design: Design, job: Job, order: FilmOrder) -> None:
        asked.append(job.in_hoop)
        raise UsageError("enough")

    monkeypatch.setattr("render.animation.film_of", stop)
    assert animate(dst, "-o", "film.gif", *options) == 2
    assert asked == [in_hoop]


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="POSIX signals")
@pytest.mark.parametrize(
    ("name", "how", "code"),
    [("film.mp4", signal.SIGINT, 130), ("film.mp4", signal.SIGTERM, 143), ("film.png", signal.SIGTERM, 143)],
)
def test_stopped_in_the_middle_it_leaves_nothing_behind(
    dst: Path, tmp_path: Path, name: str, how: signal.Signals, code: int
) -> None:
    if not name.endswith("png"):
        pytest.importorskip("imageio_ffmpeg")
    arguments = [
        "animate",
        dst,
        "-o",
        tmp_path / name,
        "--as-programmed",
        "--seconds",
        "3000",
        "--size",
        "64x48",
    ]
    process = subprocess.Popen(
        [sys.executable, "-c", "from render.cli import main; main()", *map(str, arguments)],
        stderr=subprocess.PIPE,
    )
    deadline = time.monotonic() + 120
    while not any(path.stat().st_size > 0 for path in tmp_path.iterdir()):
        assert process.poll() is None
        assert time.monotonic() < deadline
        time.sleep(0.02)
    process.send_signal(how)
    _, said = process.communicate(timeout=300)
    assert process.returncode == code
    assert said.decode() == "twillight: stopped\n"
    assert list(tmp_path.iterdir()) == []


# Stopped as it has taken a lock that another thread then waits for, and it for that thread.
STUCK = """
import os, signal, threading
from render import cli

cli.STUCK_S = 0.5
lock = threading.Lock()

def command():
    try:
        lock.acquire()
        waits = threading.Thread(target=lock.acquire)
        waits.start()
        os.kill(os.getpid(), signal.SIGTERM)
    except SystemExit as ending:
        try:
            waits.join()
        except SystemExit:
            print("put away", flush=True)
        return ending.code

cli.run = command
cli.main()
"""


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX signals")
def test_stopped_as_it_takes_a_lock_it_ends_all_the_same() -> None:
    done = subprocess.run([sys.executable, "-c", STUCK], capture_output=True, timeout=100, text=True)
    assert (done.returncode, done.stdout, done.stderr) == (143, "put away\n", "")
