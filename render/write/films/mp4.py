"""MP4 with H.264, which everything plays."""

from __future__ import annotations

from render.write.ffmpeg import FfmpegWriter, encoder_path
from render.write.films import FilmFormat

HOW = ["-vcodec", "libx264", "-crf", "19", "-preset", "medium", "-movflags", "+faststart", "-f", "mp4"]

FORMAT = FilmFormat(
    "MP4", lambda part, shape, _: FfmpegWriter(part, shape, HOW), even_sides=True, check=encoder_path
)
