"""The command line: read the options, call the library, say what came out.

Only this package knows typer; each command is a module of its own. Nothing heavy is imported
before a command runs, so that `--help` and shell completion answer at once.
"""

from __future__ import annotations

import atexit
import contextlib
import errno
import gc
import os
import signal
import sys
import threading
import traceback
import warnings
from functools import cache
from typing import TYPE_CHECKING, Annotated, Any, NoReturn

import typer

from render.cli.animate import animate
from render.cli.changes import changes
from render.cli.compare import compare
from render.cli.draw import draw
from render.cli.examples import EXAMPLES
from render.cli.fit import fit
from render.cli.fit_thread import fit_thread
from render.cli.inspect import inspect
from render.cli.lists import list_
from render.cli.proof import proof
from render.cli.pull import pull
from render.cli.scene import scene
from render.cli.swatch import swatch
from render.cli.verify import verify
from render.errors import OutputError, TwillightError
from render.words import printable

if TYPE_CHECKING:
    from collections.abc import Callable

EPILOG = """\b
Exit codes:
  0    done
  1    --fail-on was asked for, and met; verify: not as approved
  2    the command makes no sense as typed, or would replace a file
  65   the stitch file, or another file or value handed in, cannot be used
  70   a fault of this program
  74   the result cannot be written
  130  stopped with Ctrl-C; 143 when another program ended it
"""

STOPPED, TERMINATED = 128 + signal.SIGINT, 128 + signal.SIGTERM
STUCK_S = 10.0  # so long a command that is terminated may take to put all away
NOWHERE = "no locator available"  # numba's words where it can write neither folder it knows of
DISK_FULL = {errno.ENOSPC, getattr(errno, "EDQUOT", errno.ENOSPC), errno.EFBIG}

app = typer.Typer(
    help="Shows, before a needle moves, how a machine-embroidery design will really sew out.",
    epilog=EPILOG,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)


def _print_version(asked: bool) -> None:
    if asked:
        from render import __version__

        print(f"twillight {__version__}")
        raise typer.Exit


@app.callback(invoke_without_command=True)
def twillight(
    context: typer.Context,
    version: Annotated[
        bool, typer.Option("--version", callback=_print_version, is_eager=True, help="Show the version.")
    ] = False,
) -> None:
    if context.invoked_subcommand is None:
        print(context.get_help())


COMMANDS: dict[str, Callable[..., None]] = {  # in the order in which a shop meets them
    "draw": draw,
    "animate": animate,
    "scene": scene,
    "inspect": inspect,
    "proof": proof,
    "verify": verify,
    "changes": changes,
    "pull": pull,
    "compare": compare,
    "swatch": swatch,
    "fit": fit,
    "fit-thread": fit_thread,
    "list": list_,
}
for _name, _command in COMMANDS.items():
    app.command(_name, epilog=f"\b\nExample:\n  {EXAMPLES[_name]}\n\n{EPILOG}")(_command)


@cache
def _assembled() -> Callable[..., Any]:
    """The commands as typer makes them of these functions, which takes a while."""
    return typer.main.get_command(app)


def run(arguments: list[str] | None = None) -> int:
    """Run the command line and return its exit code; an error is one line on standard error."""
    typed = sys.argv[1:] if arguments is None else arguments
    debug = "--debug" in typed
    try:
        code = _assembled()(arguments, prog_name="twillight", standalone_mode=False) or 0
    except TwillightError as error:
        return _fail(str(error), error.exit_code, debug=debug)
    except typer.TyperException as error:
        return _fail(_misuse(error, typed), 2, debug=debug)
    except (typer.Abort, KeyboardInterrupt):
        code = STOPPED
    except SystemExit as ending:
        return _ended(ending)
    except MemoryError:
        return _fail("there is not enough memory for this picture: lower --dpi", 70, debug=debug)
    except Exception as error:  # noqa: BLE001 - the last resort
        first = _first_cause(error)
        if isinstance(first, KeyboardInterrupt):
            return _fail("stopped", STOPPED, debug=False)
        if isinstance(first, SystemExit):
            return _ended(first)
        if isinstance(first, OSError) and first.errno in DISK_FULL:
            return _fail(_disk_full(first), OutputError.exit_code, debug=debug)
        if isinstance(first, FileNotFoundError) and ".ttf" in str(first):
            return _fail(f"a font of twillight's own is missing: install it again ({first})", 70, debug=debug)
        if isinstance(first, RuntimeError) and NOWHERE in str(first):
            return _fail(
                "there is no folder that can be written, to keep compiled kernels in: "
                "name one in NUMBA_CACHE_DIR",
                OutputError.exit_code,
                debug=debug,
            )
        reason = f"{type(error).__name__}: {error}" if str(error) else type(error).__name__
        return _fail(
            f"this is a fault of twillight, not of your files ({reason}); --debug shows where",
            70,
            debug=debug,
        )
    if code == 130:
        return _fail("stopped", STOPPED, debug=False)
    return int(code)


def _ended(ending: SystemExit) -> int:
    """The exit code of a program that was told to end, which says so; anything else leaves as it meant to."""
    if ending.code != TERMINATED:
        raise ending
    return _fail("stopped", TERMINATED, debug=False)


def _fail(message: str, code: int, *, debug: bool) -> int:
    if debug:
        traceback.print_exc()
    print(f"twillight: {printable(message)}", file=sys.stderr)
    return code


def _first_cause(error: BaseException) -> BaseException:
    """What a compiled function was ended by: a signal comes out of it as SystemErrors, one upon the other."""
    while isinstance(error, SystemError) and error.__cause__ is not None:
        error = error.__cause__
    return error


def _misuse(error: typer.TyperException, typed: list[str]) -> str:
    """What typer says of a command that makes no sense, and where to read more."""
    context = getattr(error, "ctx", None)
    command = context.command_path if context is not None else "twillight"
    reason = error.format_message().rstrip(".").replace("Value error, ", "")
    files = [word for word in typed if word.startswith("-") and os.path.isfile(word)]  # noqa: PTH113
    if files:
        return f"{files[0]} is read as an option and not as the file: write ./{files[0]}"
    return f"{reason} ({command} --help tells more)"


def _disk_full(error: OSError) -> str:
    """Results say so themselves where they are written; this is of what is kept between runs."""
    where = f" ({error.filename})" if error.filename else ""
    return (
        f"there is no room on the disk to keep compiled kernels{where}: make room, "
        "or name a folder on another disk in NUMBA_CACHE_DIR"
    )


def main() -> None:
    """The command `twillight`."""
    # Imports make a hundred thousand objects that stay: looking among them for rubbish takes long.
    gc.set_threshold(100_000, 20, 50)
    for stream in (sys.stdout, sys.stderr):
        # A console that lacks a sign shows a question mark instead of failing.
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    if "--debug" not in sys.argv:  # what libraries warn programmers of
        warnings.simplefilter("ignore")
    # Half-written files and encoders are put away on the way out.
    signal.signal(signal.SIGTERM, _terminate)
    _leave(run())


def _terminate(number: int, frame: object) -> NoReturn:
    """Put all away and end, from wherever this comes.

    What is stopped just as it has taken a lock keeps it: whoever then waits for that is stopped as well.
    """
    if hasattr(signal, "setitimer"):
        signal.signal(signal.SIGALRM, _terminate)
        signal.setitimer(signal.ITIMER_REAL, STUCK_S)
    sys.exit(TERMINATED)


def _leave(code: int) -> NoReturn:
    """End the process without taking apart what the libraries hold, a seventh of a whole command's work; one
    that was stopped does not wait for threads, which may be stuck."""
    if code in {STOPPED, TERMINATED} or threading.active_count() == 1:
        atexit._run_exitfuncs()
        # What cannot be written is left to Python to complain of.
        with contextlib.suppress(OSError, AttributeError, ValueError):
            sys.stdout.flush()
            sys.stderr.flush()
            os._exit(code)
    sys.exit(code)
