"""Reading a photo of a piece of metal that lies in the printed capture frame.

    found = read_metal(Upload(data), MetalAsked(thickness_mm=0.8))

Not ink but a silhouette: what is not paper. In a process of its own, as all pictures are read
(`studio.core.confining`):

1. `scan.opening` and `scan.markers` decode the photo and lay the frame flat, taking of red,
   green and blue the darkest, in which copper and brass stand out from paper even where they
   are bright;
2. `silhouette` knows the paper from the frame's rim, and tells metal from it; what is light
   inside the metal is a window only where its edge is sharp and paper lies in it, so that
   mirrored light and scratches are none;
3. `rims` finds the edge to a fraction of a dot, and where it cannot be seen;
4. `above` puts back what the metal's thickness does: its upper face is nearer to the camera.

Or (`traced`) a pen line drawn round the metal: the ordinary reader finds it, and its edge on the
metal's side is what counts, because the pen's middle runs half a pen's width outside the metal.
"""

from __future__ import annotations

import base64
import json
from dataclasses import dataclass
from typing import Any

from shapely import wkt
from shapely.geometry import Polygon

from studio.core.confining import Stopped, confined
from studio.core.drawing import Finding

from ..errors import PatternError
from ..scan.limits import MAX_PICTURE_BYTES, MAX_PIXELS, MEMORY_BYTES, SECONDS
from ..uploads import Upload

_HEAD = 8
_STOPPED = {
    "time": (
        "Reading this picture took too long and was stopped.",
        "Take the photo again with nothing but the metal and the frame in it.",
    ),
    "busy": ("Too many pictures are being read at this moment.", "Try again in a minute."),
    "died": (
        "This picture could not be read: it is damaged or needs too much memory.",
        "Save it as a new JPEG file, and try again.",
    ),
}


@dataclass(frozen=True, slots=True)
class MetalAsked:
    """`frame` names the printed frame, None takes the one that is seen; `traced` when a pen line
    was drawn round the metal and the metal taken away."""

    thickness_mm: float
    traced: bool = False
    frame: str | None = None


@dataclass(frozen=True, slots=True)
class Opening:
    """Something light inside the metal (mm): `window` is what the reader takes it for."""

    outline: Polygon
    window: bool


@dataclass(frozen=True, slots=True)
class MetalPhoto:
    """One piece of metal as read, in millimetres of the frame's drawing area, y upwards.

    `outer` has no windows; `openings` are offered to the person. `picture` is a JPEG file of the
    flattened photo from (left_mm, low_mm), `wide_mm` by `high_mm`.
    """

    outer: Polygon
    openings: tuple[Opening, ...]
    findings: tuple[Finding, ...]
    picture: bytes
    left_mm: float
    low_mm: float
    wide_mm: float
    high_mm: float

    def to_json(self) -> dict[str, Any]:
        return {
            "outer": wkt.dumps(self.outer, rounding_precision=4),
            "openings": [
                [wkt.dumps(one.outline, rounding_precision=4), one.window] for one in self.openings
            ],
            "findings": [finding.to_json() for finding in self.findings],
            "picture": base64.b64encode(self.picture).decode(),
            "place": [self.left_mm, self.low_mm, self.wide_mm, self.high_mm],
        }

    @classmethod
    def from_json(cls, data: dict[str, Any]) -> MetalPhoto:
        """Raises ValueError for what is no such text."""
        try:
            return cls(
                _polygon(data["outer"]),
                tuple(Opening(_polygon(text), bool(window)) for text, window in data["openings"]),
                tuple(Finding.from_json(one) for one in data["findings"]),
                base64.b64decode(data["picture"]),
                *(float(value) for value in data["place"]),
            )
        except (KeyError, TypeError) as odd:
            raise ValueError("not a metal photo") from odd


def _polygon(text: str) -> Polygon:
    shape = wkt.loads(text)
    if not isinstance(shape, Polygon):
        raise ValueError("an outline is no polygon")  # noqa: TRY004 -- text from a process
    return shape


def require_photo(upload: Upload) -> None:
    """Quickly, by its first bytes. Raises PatternError for what nobody can read metal out of."""
    if not upload.data.strip():
        raise PatternError("file-empty", "This file is empty.", "Choose another file.")
    if not upload.is_picture:
        raise PatternError(
            "kind-not-read",
            "This is no picture that is read here.",
            "Photograph the metal in the capture frame, and upload the photo as JPEG or PNG.",
        )
    if len(upload.data) > MAX_PICTURE_BYTES:
        raise PatternError(
            "file-too-large",
            f"This picture file is larger than {MAX_PICTURE_BYTES // 1_000_000} MB.",
            "Save the photo as JPEG.",
        )


def read_metal(upload: Upload, asked: MetalAsked) -> MetalPhoto:
    """Raises PatternError, and nothing else."""
    require_photo(upload)
    head = json.dumps(
        {
            "kind": upload.kind,
            "thickness_mm": asked.thickness_mm,
            "traced": asked.traced,
            "frame": asked.frame,
        }
    ).encode()
    try:
        reply = json.loads(
            confined(
                f"{__name__}.child",
                len(head).to_bytes(_HEAD, "big") + head + upload.data,
                seconds=SECONDS,
                memory_bytes=MEMORY_BYTES,
                environment={"OPENCV_IO_MAX_IMAGE_PIXELS": str(MAX_PIXELS)},
            )
        )
        if "refused" in reply:
            raise PatternError(*reply["refused"])
        return MetalPhoto.from_json(reply)
    except Stopped as stopped:
        message, mend = _STOPPED[stopped.why]
        raise PatternError(f"picture-{stopped.why}", message, mend) from stopped
    except ValueError as garbled:
        message, mend = _STOPPED["died"]
        raise PatternError("picture-died", message, mend) from garbled


def unpacked(request: bytes) -> tuple[bytes, str, MetalAsked]:
    """What the reading process is asked: the file, its kind, and what is known about it."""
    length = int.from_bytes(request[:_HEAD], "big")
    head = json.loads(request[_HEAD : _HEAD + length])
    asked = MetalAsked(float(head["thickness_mm"]), bool(head["traced"]), head["frame"])
    return request[_HEAD + length :], head["kind"], asked
