"""Opens a picture file within bounds: light and dark as one grey channel, and its resolution.

The dimensions are looked at before a single pixel is decoded, so that a small file cannot
unpack into all of the memory. Nothing but the pixels, their orientation and their resolution is
taken from the file; what else it carries (place, camera, thumbnails) is left in it.
"""

from __future__ import annotations

import io
import math
import warnings
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..errors import PatternError
from .limits import LEAST_SIDE_PX, MAX_PIXELS, MAX_SIDE_PX

Grey = NDArray[np.uint8]

_FORMATS = {"png": "PNG", "jpeg": "JPEG", "tiff": "TIFF", "webp": "WEBP"}
_ORIENTATION = 0x0112
_RESOLUTION_UNIT = 0x0128
_EXIF = 0x8769
_CAMERA_TAGS = (0x829A, 0x829D, 0x920A)  # exposure time, aperture, focal length
_MODES = frozenset({"1", "L", "LA", "P", "PA", "RGB", "RGBA", "CMYK", "YCbCr", "I;16", "I;16B"})
_SAVE_AGAIN = "Scan or photograph the paper again, and save it as PNG or JPEG."


@dataclass(frozen=True, slots=True)
class Picture:
    """`grey` has the shape (height, width), 0 is black; `dpi` is what the file states.

    `is_photo` when the file says that a camera took it; its dpi means nothing then.
    """

    grey: Grey
    dpi: tuple[float, float] | None
    is_photo: bool = False


def open_picture(data: bytes, kind: str, *, darkest: bool = False) -> Picture:
    """Raises PatternError for all that is not a whole picture of bearable size.

    `darkest` takes of red, green and blue the least instead of the brightness: so coloured metal
    stands out from white paper even where both are bright.
    """
    from PIL import Image, ImageOps, UnidentifiedImageError

    Image.MAX_IMAGE_PIXELS = MAX_PIXELS
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            with Image.open(io.BytesIO(data), formats=[_FORMATS[kind]]) as image:
                _check_size(image.width, image.height)
                if image.mode not in _MODES:
                    raise PatternError(
                        "picture-mode",
                        "The colours of this picture are stored in a way that is not read here.",
                        _SAVE_AGAIN,
                    )
                dpi = _stated(image)
                exif = image.getexif()
                turned = int(exif.get(_ORIENTATION, 1) or 1)
                if not darkest:
                    image.draft("L", None)
                upright = ImageOps.exif_transpose(_greyed(image, darkest))
                if turned in (5, 6, 7, 8) and dpi is not None:
                    dpi = dpi[1], dpi[0]
                grey = np.ascontiguousarray(upright, dtype=np.uint8)
                return Picture(grey, dpi, _is_photo(exif))
        except PatternError:
            raise
        except (Image.DecompressionBombError, MemoryError) as bomb:
            raise _too_large() from bomb
        except UnidentifiedImageError as broken:
            raise PatternError(
                "picture-broken", "This file begins like a picture but is none.", _SAVE_AGAIN
            ) from broken
        except Exception as broken:
            # The decoders raise whatever their format makes them stumble over.
            raise PatternError(
                "picture-broken",
                "This picture is damaged or cut short, so it cannot be opened.",
                _SAVE_AGAIN,
            ) from broken


def _greyed(image: Any, darkest: bool) -> Any:
    """One 8-bit channel; what is transparent is paper."""
    from PIL import Image

    if image.mode.startswith("I;16"):
        values = np.asarray(image, dtype=np.uint16)
        kept = Image.fromarray((values >> 8).astype(np.uint8))
    elif image.mode in ("LA", "PA", "RGBA") or "transparency" in image.info:
        with image.convert("RGBA") as clear:
            kept = Image.new("L", clear.size, 255)
            kept.paste(clear.convert("L"), mask=clear.getchannel("A"))
    elif darkest and image.mode not in ("1", "L"):
        kept = Image.fromarray(np.asarray(image.convert("RGB"), dtype=np.uint8).min(axis=2))
    else:
        kept = image.convert("L")
    exif = image.getexif()
    turned = exif.get(_ORIENTATION)
    if turned:
        kept.getexif()[_ORIENTATION] = turned
    return kept


def _is_photo(exif: Any) -> bool:
    """Whether a camera wrote down how long it exposed, or the length of its lens."""
    return any(tag in exif.get_ifd(_EXIF) for tag in _CAMERA_TAGS)


def _check_size(width: int, height: int) -> None:
    if width * height > MAX_PIXELS or max(width, height) > MAX_SIDE_PX:
        raise _too_large()
    if min(width, height) < LEAST_SIDE_PX:
        raise PatternError(
            "picture-too-small",
            f"This picture is only {width} × {height} dots.",
            "Scan the paper at 300 dpi, or photograph it from nearer.",
        )


def _too_large() -> PatternError:
    return PatternError(
        "picture-too-large",
        f"This picture has more than {MAX_PIXELS // 1_000_000} million dots.",
        "Scan at 300 dpi, or save the picture smaller.",
    )


def _stated(image: Any) -> tuple[float, float] | None:
    """Dots per inch, when the file states some that a scanner could mean."""
    found = image.info.get("dpi")
    if image.format == "JPEG" and image.info.get("jfif_unit") == 0 and "exif" not in image.info:
        return None  # only the shape of a dot
    if image.format == "TIFF" and image.tag_v2.get(_RESOLUTION_UNIT, 2) == 1:
        return None
    try:
        across, up = float(found[0]), float(found[1])
    except (TypeError, ValueError, IndexError, ZeroDivisionError):
        return None
    if not (math.isfinite(across) and math.isfinite(up)):
        return None
    # PNG stores whole dots for each metre: 300 dpi comes back as 299.9994.
    near = [round(value) if abs(value - round(value)) < 0.02 else value for value in (across, up)]
    return (near[0], near[1]) if min(near) >= 30 and max(near) <= 5_000 else None
