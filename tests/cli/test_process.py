"""The command as a process: start-up, pipes, terminals, completion."""

from __future__ import annotations

import io
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from clock import processor_seconds
from PIL import Image

COMMAND = [sys.executable, "-m", "render"]
HEAVY = {"numpy", "scipy", "numba", "PIL", "pyembroidery", "rich"}


def start(*arguments: str, **options: object) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run([*COMMAND, *arguments], capture_output=True, check=False, **options)  # type: ignore[call-overload,no-any-return]


@pytest.mark.parametrize("arguments", [["--help"], ["draw", "--help"], ["list", "--help"], []])
def test_help_loads_nothing_heavy(arguments: list[str]) -> None:
    script = (
        "import sys; from render.cli import run; code = run(sys.argv[1:]); "
        f"print(sorted({HEAVY!r} & set(sys.modules)), file=sys.stderr); sys.exit(code)"
    )
    done = subprocess.run(
        [sys.executable, "-c", script, *arguments], capture_output=True, text=True, check=True
    )
    assert done.stderr.strip() == "[]"
    assert "Usage: twillight" in done.stdout


def test_help_answers_at_once() -> None:
    """It takes about twice as long as the library that it is made with takes to load (measured)."""
    loading = answering = 0.0
    for _ in range(4):
        before = processor_seconds()
        subprocess.run([sys.executable, "-c", "import typer"], check=True)
        between = processor_seconds()
        assert start("--help").returncode == 0
        loading += between - before
        answering += processor_seconds() - between
    assert answering < 5 * loading


def test_help_tells_the_exit_codes() -> None:
    for arguments in (["--help"], ["draw", "--help"]):
        text = start(*arguments).stdout.decode()
        listed = [
            line.split()[0] for line in text[text.index("Exit codes:") :].splitlines()[1:] if line.strip()
        ]
        assert listed == ["0", "1", "2", "65", "70", "74", "130"]


@pytest.mark.parametrize(
    ("before", "last"),
    [
        ("import atexit; atexit.register(print, 'put away')", "put away"),
        (
            "import threading; "
            "work = lambda: (threading.main_thread().join(), print('worked to the end')); "
            "threading.Thread(target=work).start()",
            "worked to the end",
        ),
    ],
)
def test_leaving_waits_for_what_is_still_to_do(before: str, last: str) -> None:
    script = f"{before}; from render.cli import main; main()"
    done = subprocess.run([sys.executable, "-c", script, "list", "hoops"], capture_output=True, check=True)
    lines = done.stdout.decode().splitlines()
    assert len(lines) > 5
    assert lines[-1] == last


@pytest.mark.skipif(sys.platform == "win32", reason="signals work differently there")
@pytest.mark.parametrize(("number", "code"), [(signal.SIGINT, 130), (signal.SIGTERM, 143)])
def test_told_to_end_while_it_still_loads(number: int, code: int) -> None:
    """A module that the command line needs sends the signal as it is loaded."""
    script = (
        "import os, signal, sys, types; from render.__main__ import main; "
        "sys.meta_path.insert(0, types.SimpleNamespace(find_spec=lambda name, *rest: "
        f"os.kill(os.getpid(), {int(number)}) if name == 'typer' else None)); main()"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, check=False)
    assert (done.returncode, done.stdout, done.stderr) == (code, b"", b"twillight: stopped\n")


def test_version() -> None:
    import render

    assert start("--version").stdout.decode().split() == ["twillight", render.__version__]


def test_picture_through_a_pipe(dst: Path) -> None:
    done = start("draw", "-", "-o", "-", "--dpi", "60", input=dst.read_bytes())
    assert done.returncode == 0, done.stderr
    assert Image.open(io.BytesIO(done.stdout)).format == "PNG"
    assert b"2 colour blocks" in done.stderr


@pytest.mark.slow
def test_drawing_again_loads_only_what_it_needs(dst: Path, tmp_path: Path) -> None:
    """What was sewn and smoothed the first time is on disk the second time, and the picture is the same."""
    extra = ("scipy.ndimage", "scipy.sparse.linalg", "pyembroidery", "imageio_ffmpeg", "fpdf")
    script = (
        "import sys; from render.cli import run; code = run(sys.argv[1:]); "
        f"print([name for name in {extra!r} if name in sys.modules]); sys.exit(code)"
    )
    out = tmp_path / "two.png"
    pictures = []
    for _ in range(2):
        done = subprocess.run(
            [sys.executable, "-c", script, "draw", str(dst), "-o", str(out), "--dpi", "60", "--force"],
            capture_output=True,
            text=True,
            check=True,
        )
        pictures.append(out.read_bytes())
    assert done.stdout.splitlines()[-1] == "[]"
    assert pictures[0] == pictures[1]


def test_json_and_picture_cannot_share_standard_output(dst: Path) -> None:
    done = start("draw", str(dst), "-o", "-", "--json")
    assert (done.returncode, done.stdout) == (2, b"")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
def test_standard_output_that_is_full(dst: Path) -> None:
    with Path("/dev/full").open("wb") as full:
        done = subprocess.run(
            [*COMMAND, "draw", str(dst), "-o", "-", "--dpi", "60"],
            stdout=full,
            stderr=subprocess.PIPE,
            check=False,
        )
    assert done.returncode == 74
    assert done.stderr.count(b"\n") == 1


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX pipes")
def test_reader_that_goes_away() -> None:
    reading, writing = os.pipe()
    os.close(reading)
    done = subprocess.run([*COMMAND, "list", "fabrics"], stdout=writing, stderr=subprocess.PIPE, check=False)
    os.close(writing)
    assert (done.returncode, done.stderr) == (74, b"")


def in_terminal(*arguments: str, **environment: str) -> tuple[int, str]:
    """Exit code and what shows, with all three streams on a terminal."""
    import pty

    ours, theirs = pty.openpty()
    process = subprocess.Popen(
        [*COMMAND, *arguments], stdin=theirs, stdout=theirs, stderr=theirs, env={**os.environ, **environment}
    )
    os.close(theirs)
    shown = b""
    while True:
        try:
            piece = os.read(ours, 4096)
        except OSError:  # Linux reports the end of a terminal as an error
            break
        if not piece:
            break
        shown += piece
    os.close(ours)
    return process.wait(), shown.decode()


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX terminals")
def test_picture_is_not_thrown_at_a_terminal(dst: Path) -> None:
    code, shown = in_terminal("draw", str(dst), "-o", "-")
    assert code == 2
    assert "PNG" not in shown.replace("a PNG on", "")


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX terminals")
def test_reading_from_a_terminal_is_refused(tmp_path: Path) -> None:
    code, shown = in_terminal("draw", "-", "-o", str(tmp_path / "x.png"))
    assert code == 2
    assert "piped" in shown


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="POSIX terminals")
def test_colour_swatches_only_in_a_terminal_that_wants_them(dst: Path, tmp_path: Path) -> None:
    arguments = (
        "draw",
        str(dst),
        "-o",
        str(tmp_path / "x.png"),
        "--dpi",
        "60",
        "--force",
        "--thread",
        "1=#c02030",
    )
    swatch = "\x1b[48;2;192;32;48m"
    assert swatch in in_terminal(*arguments, COLORTERM="truecolor", NO_COLOR="")[1]
    assert "\x1b" not in in_terminal(*arguments, COLORTERM="truecolor", NO_COLOR="1")[1]
    assert b"\x1b" not in start(*arguments, env={**os.environ, "COLORTERM": "truecolor"}).stdout


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX shells")
def test_shell_completion_knows_commands_and_fabrics() -> None:
    script = start(
        "--show-completion", env={**os.environ, "_TWILLIGHT_COMPLETE": "source_bash"}
    ).stdout.decode()
    assert "_TWILLIGHT_COMPLETE=complete_bash" in script
    words = "twillight draw x.dst --fabric de"
    done = start(
        env={
            **os.environ,
            "_TWILLIGHT_COMPLETE": "complete_bash",
            "COMP_WORDS": words,
            "COMP_CWORD": "4",
        }
    )
    assert "denim" in done.stdout.decode().split()
