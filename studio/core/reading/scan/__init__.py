"""Reading a scan or a photo of inked paper.

    rough = read_picture(data, "jpeg", Asked(frame="a4"))

The web process imports none of the picture libraries: `read_picture` sends the file to a
process of its own (`studio.core.confining`), where

1. `opening` decodes it within bounds, upright, as one grey channel;
2. in `scaling`, `scale` finds out how large a dot is: from the printed frame (`markers`,
   `camera`), from a reference the student marked (`references`), from the resolution, or from a
   typed width;
3. in `ink`, `inking` evens the light and tells ink from paper, pencil and fingers; `blobs` are
   areas of ink;
4. `thinning` and `strokes` make a web of middle lines, `faces` the areas between them, and say
   which are shaded or hatched;
5. `sheet` decides from the outside inwards what is a piece, a window, a drill mark or a surface
   line; `loops` walks around each;
6. `middling` moves every line to the middle of its ink to a fraction of a dot, and `shaping`
   keeps corners sharp and curves smooth with few points.
"""

from __future__ import annotations

from studio.core.confining import Stopped, confined

from ..errors import PatternError
from ..rough import Asked, Rough
from . import wire
from .limits import MAX_PICTURE_BYTES, MAX_PIXELS, MEMORY_BYTES, SECONDS

_MENDS = {
    "time": (
        "Reading this picture took too long and was stopped.",
        "Scan it in black and white at 300 dpi, with nothing but the drawing on it.",
    ),
    "busy": ("Too many pictures are being read at this moment.", "Try again in a minute."),
    "died": (
        "This picture could not be read: it is damaged or needs too much memory.",
        "Open it in a picture program, save it as a new PNG file, and try again.",
    ),
}


def read_picture(data: bytes, kind: str, asked: Asked) -> Rough:
    """`kind` is "png", "jpeg", "tiff" or "webp". Raises PatternError, and nothing else."""
    if len(data) > MAX_PICTURE_BYTES:
        raise PatternError(
            "file-too-large",
            f"This picture file is larger than {MAX_PICTURE_BYTES // 1_000_000} MB.",
            "Scan at 300 dpi in grey, or save the picture as JPEG.",
        )
    try:
        reply = confined(
            f"{__name__}.child",
            wire.packed(data, kind, asked),
            seconds=SECONDS,
            memory_bytes=MEMORY_BYTES,
            environment={"OPENCV_IO_MAX_IMAGE_PIXELS": str(MAX_PIXELS)},
        )
        return wire.understood(reply)
    except Stopped as stopped:
        message, mend = _MENDS[stopped.why]
        raise PatternError(f"picture-{stopped.why}", message, mend) from stopped
    except ValueError as garbled:
        message, mend = _MENDS["died"]
        raise PatternError("picture-died", message, mend) from garbled
