"""WebM with VP9, for web pages."""

from __future__ import annotations

from render.write.ffmpeg import FfmpegWriter, encoder_path
from render.write.films import FilmFormat

HOW = ["-vcodec", "libvpx-vp9", "-crf", "31", "-b:v", "0", "-deadline", "good", "-cpu-used", "5"]
HOW += ["-row-mt", "1", "-f", "webm"]

FORMAT = FilmFormat(
    "WEBM", lambda part, shape, _: FfmpegWriter(part, shape, HOW), even_sides=True, check=encoder_path
)
