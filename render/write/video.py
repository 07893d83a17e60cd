"""Films frame by frame: a long one takes no more memory. Their formats are the modules of `films/`."""

from __future__ import annotations

import contextlib
import os
from pathlib import Path
from typing import TYPE_CHECKING

from render.errors import UsageError
from render.modules import endings, module_in
from render.words import either
from render.write.files import whole_file

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from render.write.films import FilmFormat, Pixels, Shape, Writer

FOLDER = "render.write.films"


def film_format(path: str | os.PathLike[str]) -> FilmFormat:
    """The format that a file name asks for by its ending.

    Raises UsageError for other names, and where the encoder for it is not installed.
    """
    known, ending = endings(FOLDER), Path(path).suffix.lower()
    if ending not in known:
        raise UsageError(
            f"{Path(path).name!r} names no film: end it in {either(known)}, or name a storyboard with --sheet"
        )
    form: FilmFormat = module_in(FOLDER, ending[1:]).FORMAT
    form.check()
    return form


@contextlib.contextmanager
def film_file(
    path: str | os.PathLike[str], shape: Shape, *, palette_from: Iterable[Pixels] = (), force: bool = False
) -> Iterator[Writer]:
    """A film that is there, whole, once all frames have been added and nothing went wrong.

    `palette_from` are pictures whose colours a GIF gets. Raises UsageError for a size that the format
    cannot have or a file that is there without `force`, OutputError when it cannot be written.
    """
    form = film_format(path)
    if shape.fps > form.most_fps:
        raise UsageError(f"{form.title} films run at up to {form.most_fps:g} frames a second: lower --fps")
    if form.sides(shape.cols, shape.rows) != (shape.cols, shape.rows):
        raise UsageError(f"{form.title} films need even sides, not {shape.cols} x {shape.rows} pixels")
    with (
        whole_file(path, force=force) as part,
        contextlib.closing(form.writer(part, shape, palette_from)) as writer,
    ):
        yield writer
        writer.finish()
