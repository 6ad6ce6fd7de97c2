"""Words in a picture: where they stand and how large, in the page's millimetres."""

from __future__ import annotations

from dataclasses import dataclass

LETTER_EM = 0.64  # width of a letter of the bold face, in its size


@dataclass(frozen=True, slots=True)
class Text:
    """A word in a picture: place on the page and size in mm."""

    text: str
    x: str
    y: str
    size: str
    anchor: str = "middle"
    back: tuple[str, str, str, str] | None = None  # a white ground behind it: x, y, width, height
