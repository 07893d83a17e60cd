"""The shop's own photograph, as linear light the right way up."""

from __future__ import annotations

import io
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from render.errors import InputError
from render.model import freeze
from render.photos import DAMAGED, camera_fact, deep_grey, upright
from render.scene.photo.deep import is_scattered, lower_bytes, profiled

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from PIL import Image

MOST_BYTES, MOST_PIXELS, LEAST_SIDE_PX = 120_000_000, 80_000_000, 64
FORMATS = ("JPEG", "PNG", "TIFF", "WEBP")
_FOCAL_35MM = 0xA405  # EXIF 2.32: FocalLengthIn35mmFilm
USUAL_FOCAL_35MM = 50.0  # where the photograph does not say (common practice, no source)


@dataclass(frozen=True, slots=True, eq=False)
class Photo:
    """`srgb (rows, cols, 3)` float32 in [0, 1], turned as its EXIF says and in sRGB; `focal_px` the
    lens's focal length in pixels; `notes` what had to be supposed."""

    srgb: NDArray[np.float32]
    focal_px: float
    notes: tuple[str, ...]

    def __post_init__(self) -> None:
        freeze(self, srgb=(-1, -1, 3))


def read_photo(path: str) -> Photo:
    """A photograph from a JPEG, PNG, TIFF or WebP file. Raises InputError with one sentence."""
    image, lower = _opened(path)
    notes: list[str] = []
    focal = camera_fact(image, _FOCAL_35MM)
    try:
        focal_mm = float(focal) if focal is not None else 0.0
    except (TypeError, ValueError, ZeroDivisionError):
        focal_mm = 0.0
    if not 8.0 <= focal_mm <= 1500.0:
        focal_mm = USUAL_FOCAL_35MM
        notes.append("the photo does not say its focal length: a normal lens is supposed")
    srgb = _as_srgb(upright(image), None if lower is None else upright(lower), path, notes)
    # The long side of a 35 mm frame is 36 mm.
    return Photo(srgb, focal_mm / 36.0 * max(srgb.shape[:2]), tuple(notes))


def read_mask(path: str, shape: tuple[int, int]) -> NDArray[np.float32]:
    """Where the garment shows, (rows, cols) in [0, 1]: white, or opaque where it has transparency.

    Raises InputError, also for a mask of another size than the photograph's `shape`.
    """
    image, _ = _opened(path)
    image = upright(image)
    plane = image.getchannel("A") if image.mode in ("RGBA", "LA") else image
    if plane.size != (shape[1], shape[0]):
        raise InputError(
            f"the mask {path} has {plane.size[0]} x {plane.size[1]} pixels "
            f"and the photo {shape[1]} x {shape[0]}: make them alike"
        )
    grey = deep_grey(plane)
    return grey if grey is not None else np.asarray(plane.convert("L"), np.float32) / np.float32(255)


def _opened(path: str) -> tuple[Image.Image, Image.Image | None]:
    """The decoded picture, and its lower bytes if it is of 16-bit colour; or InputError."""
    from PIL import Image, UnidentifiedImageError

    try:
        with Path(path).open("rb") as file:
            data = file.read(MOST_BYTES + 1)
    except OSError as error:
        raise InputError(
            f"cannot read the photo {path} ({error.strerror}): check its name and whether you may read it"
        ) from None
    except ValueError:
        raise InputError(f"cannot read the photo {path!r}: no file can have that name") from None
    if len(data) > MOST_BYTES:
        raise InputError(f"the photo {path} is over {MOST_BYTES // 10**6} MB: save a smaller one")
    try:
        image = Image.open(io.BytesIO(data), formats=FORMATS)
        wide, high = image.size
        if wide * high > MOST_PIXELS:
            raise InputError(f"the photo {path} has {wide} x {high} pixels, more than 80 million: reduce it")
        if min(wide, high) < LEAST_SIDE_PX:
            raise InputError(f"the photo {path} has only {wide} x {high} pixels: at least 64 a side")
        if is_scattered(image):
            raise InputError(f"{path} keeps its colours apart: save the TIFF compressed, or interleaved")
        image.load()
        lower = lower_bytes(data, FORMATS)
    except UnidentifiedImageError:
        raise InputError(f"{path} is no photo that can be read: save it as JPEG, PNG, TIFF or WebP") from None
    except DAMAGED as error:
        raise InputError(f"the photo {path} is damaged or cut off: {str(error)[:80] or 'it ends'}") from None
    return image, lower


def _as_srgb(
    image: Image.Image, lower: Image.Image | None, path: str, notes: list[str]
) -> NDArray[np.float32]:
    """sRGB in [0, 1] from whatever mode, depth and colour profile the picture has."""
    from PIL import ImageCms

    if lower is not None:
        both = (np.asarray(half.convert("RGB"), np.uint16) for half in (image, lower))
        levels = (next(both) * np.uint16(256) + next(both)).astype(np.float32) / np.float32(65535)
        deep = _deep_srgb(levels, image.info.get("icc_profile"))
        if deep is not None:
            return deep
        notes.append(f"the colour profile of {Path(path).name} is read at 8 bits")

    grey = deep_grey(image)
    if grey is not None:
        return np.repeat(grey[..., None], 3, axis=2)
    profile = image.info.get("icc_profile")
    plain = image if image.mode in ("RGB", "CMYK", "L") else image.convert("RGB")
    if profile:
        try:
            source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
            target = ImageCms.createProfile("sRGB")
            changed = ImageCms.profileToProfile(plain, source, target, outputMode="RGB")
            plain = changed if changed is not None else plain
        except (ImageCms.PyCMSError, *DAMAGED):
            notes.append(f"the colour profile of {Path(path).name} cannot be used: taken as sRGB")
    return np.asarray(plain.convert("RGB"), np.float32) / np.float32(255)


def _deep_srgb(levels: NDArray[np.float32], profile: bytes | None) -> NDArray[np.float32] | None:
    """sRGB of 16-bit levels; None where the profile cannot be followed at that depth."""
    from PIL import ImageCms

    if not profile:
        return levels
    try:
        shown = profiled(levels, profile)
    except (ImageCms.PyCMSError, *DAMAGED):
        return None
    return None if shown is None or not np.isfinite(shown).all() else np.asarray(shown, np.float32)
