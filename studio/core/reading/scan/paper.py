"""The paper as it was read, to be laid under the lines on screen.

A small grey picture made anew from the flattened dots: it covers the page from (0, 0) to the
source's width and height in millimetres, and carries nothing else of the file.
"""

from __future__ import annotations

import cv2

from .ink.inking import Grey

MOST_SIDE_PX = 2_000
_QUALITY = 72


def paper_of(grey: Grey) -> bytes:
    """JPEG bytes, empty when none can be made: the lines do without."""
    shrink = MOST_SIDE_PX / max(grey.shape)
    if shrink < 1:
        size = (max(1, round(grey.shape[1] * shrink)), max(1, round(grey.shape[0] * shrink)))
        grey = cv2.resize(grey, size, interpolation=cv2.INTER_AREA)
    done, coded = cv2.imencode(".jpg", grey, [cv2.IMWRITE_JPEG_QUALITY, _QUALITY])
    return coded.tobytes() if done else b""
