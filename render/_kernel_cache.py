"""Where compiled kernels are kept when neither the package nor the home folder can be written."""

from __future__ import annotations

import contextlib
import os
import stat
import sys
from pathlib import Path

_VARIABLE = "NUMBA_CACHE_DIR"


def ensure_kernel_cache() -> None:
    """Name a private temporary folder in NUMBA_CACHE_DIR, if the usual places are closed.

    numba keeps compiled kernels beside the source or in the user's cache folder and raises
    when it can write neither, as in a container with a read-only package and no home. It
    reads the variable once, so this must run before numba is imported. A variable that is
    set already is left alone.
    """
    if os.environ.get(_VARIABLE) or _can_be_made(Path(__file__).parent) or _can_be_made(_user_cache()):
        return
    # With nowhere left to write numba raises, which the command line tells.
    with contextlib.suppress(OSError):
        os.environ[_VARIABLE] = str(_private_temporary_folder())


def _user_cache() -> Path:
    """The folder that numba would choose (from its source, `numba/misc/appdirs.py`, 0.68)."""
    if sys.platform == "darwin":
        return Path(os.path.expanduser("~/Library/Caches/numba"))  # noqa: PTH111 - never raises
    default = os.path.expanduser("~/.cache")  # noqa: PTH111
    return Path(os.environ.get("XDG_CACHE_HOME") or default) / "numba"


def _can_be_made(folder: Path) -> bool:
    """Whether the folder can be written, or made below the nearest one that exists."""
    while not os.path.exists(folder) and folder != folder.parent:  # noqa: PTH110 - Path.exists raises here
        folder = folder.parent
    return os.access(folder, os.W_OK | os.X_OK)


def _private_temporary_folder() -> Path:
    """The same folder each time, unless somebody else could have put something in it.

    Cached kernels are run as they are, so a folder in a shared place must be ours alone.
    """
    import tempfile

    if hasattr(os, "getuid"):
        folder = Path(tempfile.gettempdir()) / f"twillight-kernels-{os.getuid()}"
        with contextlib.suppress(FileExistsError):
            folder.mkdir(mode=0o700)
        found = folder.lstat()
        if stat.S_ISDIR(found.st_mode) and found.st_uid == os.getuid() and not found.st_mode & 0o077:
            return folder
    return Path(tempfile.mkdtemp(prefix="twillight-kernels-"))
