"""The customer's logo from a picture file."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.errors import InputError
from render.photos import DAMAGED, deep_grey, upright

if TYPE_CHECKING:
    from numpy.typing import NDArray

LONGEST_PX = 1400  # enough to tell shapes of half a millimetre on a jacket back
MOST_PX = 100_000_000
FORMATS = ("PNG", "JPEG", "TIFF", "WEBP", "BMP", "GIF")


def read_artwork(path: str) -> NDArray[np.float64]:
    """The logo as `(rows, cols, 4)`: sRGB in [0, 1] and how opaque it is, turned as it is meant to be seen.

    Larger pictures are made smaller. Raises InputError for what is no picture.
    """
    from PIL import Image, UnidentifiedImageError

    if not path:
        raise InputError("the name of the artwork is empty: give one, or leave it out")
    try:
        with Image.open(path, formats=FORMATS) as image:
            if image.width * image.height > MOST_PX:
                raise InputError(
                    f"the artwork {path} has {image.width} x {image.height} pixels: save it smaller"
                )
            image.load()
            logo = upright(image)
            deep = deep_grey(logo)
            if deep is not None:
                logo = Image.fromarray(np.rint(255 * deep).astype(np.uint8))
            logo = logo.convert("RGBA")
    except UnidentifiedImageError:
        raise InputError(
            f"the artwork {path} is no picture that can be read: save it as PNG or JPEG"
        ) from None
    except DAMAGED as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError(
            f"cannot read the artwork {path} ({reason[:80]}): check its name, or save it again as PNG or JPEG"
        ) from None
    logo.thumbnail((LONGEST_PX, LONGEST_PX), Image.Resampling.BOX)
    return np.asarray(logo, np.float64) / 255.0
