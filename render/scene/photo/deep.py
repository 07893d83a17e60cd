"""Colour photographs of 16 bits a channel, which Pillow gives at 8: its decoders run once for the upper
and once for the lower byte of each sample; and their colour profiles at the same depth."""

from __future__ import annotations

import io
import struct
import sys
from typing import TYPE_CHECKING, Any

import numpy as np

from render.colour import to_srgb

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from PIL import Image

    Samples = NDArray[np.floating[Any]]

# TIFF 6.0, sections 8 and "planar configuration": bits of each sample; 2 keeps each colour by itself.
_BITS, _PLANAR, _APART = 258, 284, 2
CURVE_STEPS = 4096


def lower_byte_mode(rawmode: str) -> str:
    """The decoder's mode that reads the other byte of each 16-bit sample; empty if it reads no such."""
    kind, _, order = rawmode.partition(";16")
    if kind not in ("RGB", "RGBA", "RGBX") or order not in ("B", "L", "N"):
        return ""
    native = "L" if sys.byteorder == "little" else "B"
    return f"{kind};16{'B' if (native if order == 'N' else order) == 'L' else 'L'}"


def is_scattered(image: Image.Image) -> bool:
    """Whether it is an uncompressed TIFF of 16-bit samples, each colour by itself: Pillow misreads it."""
    tags = getattr(image, "tag_v2", None)
    return (
        tags is not None
        and 16 in tags.get(_BITS, ())
        and tags.get(_PLANAR) == _APART
        and any(tile[0] == "raw" for tile in getattr(image, "tile", ()))
    )


def lower_bytes(data: bytes, formats: tuple[str, ...]) -> Image.Image | None:
    """The lower bytes of a file of 16-bit colour as a picture, None for any other file."""
    from PIL import Image

    image = Image.open(io.BytesIO(data), formats=formats)
    swapped = []
    for tile in image.tile:
        args: Any = tile[3]
        rawmode = args if isinstance(args, str) else args[0] if isinstance(args, tuple) else ""
        other = lower_byte_mode(str(rawmode))
        if not other:
            return None
        swapped.append(tile._replace(args=other if isinstance(args, str) else (other, *args[1:])))
    if not swapped:
        return None
    image.tile = swapped
    image.load()
    return image


def profiled(levels: Samples, profile: bytes) -> Samples | None:
    """sRGB in [0, 1] of levels (..., 3) in [0, 1] by an RGB profile of curves and a matrix (ICC.1:2022,
    8.3.3); None for profiles of another kind."""
    from PIL import ImageCms

    source = ImageCms.ImageCmsProfile(io.BytesIO(profile)).profile
    if source.xcolor_space.strip() != "RGB" or not source.is_matrix_shaper:
        return None
    curves = [_curve(profile, name) for name in (b"rTRC", b"gTRC", b"bTRC")]
    if any(curve is None for curve in curves):
        return None
    target = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).profile
    # Both are relative to the same white, that of the profiles' own space.
    matrix = np.linalg.solve(_colorants(target), _colorants(source)).astype(np.float32)
    at = np.linspace(0.0, 1.0, CURVE_STEPS)
    linear = np.stack([np.interp(levels[..., k], at, _at(curve, at)) for k, curve in enumerate(curves)], -1)
    return np.asarray(to_srgb(np.clip(linear.astype(np.float32) @ matrix.T, 0.0, 1.0)))


def _colorants(profile: Any) -> NDArray[np.float64]:
    return np.array([profile.red_colorant[0], profile.green_colorant[0], profile.blue_colorant[0]]).T


def _curve(profile: bytes, name: bytes) -> tuple[float, ...] | None:
    """A channel's curve as its tag holds it: kind of parametric curve (-1: points) and numbers."""
    (count,) = struct.unpack_from(">I", profile, 128)
    for index in range(min(count, 100)):
        tag, offset, size = struct.unpack_from(">4sII", profile, 132 + 12 * index)
        if tag != name:
            continue
        body = profile[offset : offset + size]
        if body[:4] == b"para":
            (kind,) = struct.unpack_from(">H", body, 8)
            numbers = (1, 3, 4, 5, 7)[kind]
            return kind, *(value / 65536.0 for value in struct.unpack_from(f">{numbers}i", body, 12))
        if body[:4] == b"curv":
            (many,) = struct.unpack_from(">I", body, 8)
            points = struct.unpack_from(f">{many}H", body, 12)
            return (0, points[0] / 256.0) if many == 1 else (-1, *(point / 65535.0 for point in points))
    return None


def _at(curve: tuple[float, ...] | None, x: NDArray[np.float64]) -> NDArray[np.float64]:
    """A curve's values (ICC.1:2022, 10.6 and 10.18)."""
    assert curve is not None
    kind, values = int(curve[0]), curve[1:]
    if kind == -1:
        return x if not values else np.interp(x, np.linspace(0.0, 1.0, len(values)), values)
    g, a, b, c, d, e, f = (*values, *(1.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)[len(values) :])
    if kind == 0:
        return x**g
    power = np.maximum(a * x + b, 0.0) ** g
    if kind in (1, 2):
        low = c if kind == 2 else 0.0
        return np.where(x >= -b / a, power + low, low)
    return np.where(x >= d, power + (e if kind == 4 else 0.0), c * x + (f if kind == 4 else 0.0))
