"""What all readers of picture files need: the right way up, levels beyond 8 bits, faults of damaged files."""

from __future__ import annotations

import logging
import struct
from typing import TYPE_CHECKING, Any

import numpy as np
from PIL import Image

if TYPE_CHECKING:
    from numpy.typing import NDArray

# Everything that decoding, or looking at what a camera wrote, was seen to raise on damaged files.
DAMAGED = (
    ArithmeticError,
    EOFError,
    Image.DecompressionBombError,
    LookupError,
    OSError,
    SyntaxError,
    TypeError,
    ValueError,
    struct.error,
)
# What decoders say to programmers reaches nobody who has not asked for it.
logging.getLogger("PIL").addHandler(logging.NullHandler())

_ORIENTATION, _CAMERA = 0x0112, 0x8769  # EXIF 2.32: how the camera was held, and where the rest stands
_TURNS = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}


def upright(image: Image.Image) -> Image.Image:
    """The picture turned as its EXIF says it is to be seen; as it stands where that is damaged."""
    try:
        turn = _TURNS.get(int(image.getexif().get(_ORIENTATION, 1)))
    except DAMAGED:
        turn = None
    return image if turn is None else image.transpose(turn)


def camera_fact(image: Image.Image, tag: int) -> Any:
    """What the camera wrote of a fact, by its EXIF number; None where it did not, or that is damaged."""
    try:
        return image.getexif().get_ifd(_CAMERA).get(tag)
    except DAMAGED:
        return None


def deep_grey(image: Image.Image) -> NDArray[np.float32] | None:
    """Levels (rows, cols) in [0, 1] of a grey picture of more than 8 bits, None for any other.

    Pillow's conversions cut such levels off instead of scaling them. What is no number counts as black.
    """
    if not image.mode.startswith(("I", "F")):
        return None
    grey = np.nan_to_num(np.asarray(image, np.float64), posinf=1.0, neginf=0.0)
    if image.mode == "F":
        most = 1.0 if grey.max() <= 1.0 else 255.0
    else:
        most = 65535.0 if image.mode != "I" or grey.max() > 255 else 255.0
    return np.clip(grey / most, 0.0, 1.0).astype(np.float32)
