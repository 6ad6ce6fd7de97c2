"""Where pieces and offcuts are named on a printed stock piece. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import shapely
from django.utils.translation import gettext
from shapely.geometry import Point

from classroom.figures.units import format_size
from studio.core.areas import united
from studio.core.picturing.clear_places import clear_places
from studio.prints.paper.lettering import LETTER_EM, Text
from studio.prints.paper.paths import Frame, num

from .mounts import Mount, label_in, marks_on
from .one_metal import OneMetal

OFFCUT_LEAST_MM = 1.6  # smaller letters cannot be read at the bench
LABEL_LEAST_MM = 1.8


@dataclass(frozen=True, slots=True)
class Label:
    """What a piece is called: where it stands on the metal, its letters in paper millimetres,
    and the piece's own roomiest place, to which a line leads where the label stands beside."""

    text: str
    at: Point
    size_mm: float
    home: Point

    def shown(self, frame: Frame, *, on_colour: bool = False) -> Text:
        """The words; on a student's colour and pattern with a white ground of their own."""
        x, y = frame.xy(self.at.x, self.at.y)
        size = self.size_mm
        back = None
        if on_colour:
            width = LETTER_EM * size * len(self.text) + 0.4 * size
            back = (num(x - width / 2), num(y - 0.55 * size), num(width), num(1.1 * size))
        return Text(self.text, num(x), num(y + 0.36 * size), num(size), back=back)

    def lead(self, frame: Frame) -> str:
        if self.at.distance(self.home) < 1e-6:
            return ""
        x, y = frame.xy(self.at.x, self.at.y)
        home_x, home_y = frame.xy(self.home.x, self.home.y)
        return f"M{num(home_x)} {num(home_y)}L{num(x)} {num(y)}"


def labels_on(one: OneMetal, frame: Frame, mounts: Sequence[Mount]) -> list[Label]:
    """Labels on their pieces, clear of windows and holes; where a piece has no room for letters
    that can be read, beside it."""
    found, outside = [], []
    for mount in mounts:
        at, size = label_in(mount, marks_on(mount, one.holes), frame.scale)
        if size >= LABEL_LEAST_MM:
            found.append(Label(mount.label, at, size, at))
        else:
            outside.append((mount, at))
    for mount, at in outside:
        radius = LETTER_EM * LABEL_LEAST_MM * max(1.6, len(mount.label)) / 2 / frame.scale
        others = [other.outline for other in one.mounts if other is not mount]
        standing = [(label.at, LETTER_EM * label.size_mm / frame.scale) for label in found]
        keep_off = united([one.not_to_hide, mount.outline.boundary, *others])
        (place,) = clear_places([at], radius, keep_off, taken=standing)
        found.append(Label(mount.label, place, LABEL_LEAST_MM, at))
    return found


def offcut_labels(one: OneMetal, frame: Frame) -> list[Text]:
    """What each offcut is called and how large it is, as far as there is room for it."""
    found = []
    for offcut, shown in zip(one.offcuts, one.picture.offcuts, strict=True):
        circle = shapely.maximum_inscribed_circle(offcut, tolerance=0.5)
        x, y = frame.xy(*circle.coords[0])
        lines = [gettext("offcut"), format_size(shown.longer_mm, shown.shorter_mm, one.units)]
        room = 1.8 * circle.length * frame.scale / LETTER_EM
        if room / len(lines[1]) < OFFCUT_LEAST_MM:
            lines = lines[:1]
        size = min(4.0, room / max(len(text) for text in lines))
        if size < OFFCUT_LEAST_MM:
            continue
        for number, text in enumerate(lines):
            base = y + (number - 0.15) * 1.25 * size
            width = LETTER_EM * size * len(text)
            back = (num(x - width / 2), num(base - size), num(width), num(1.3 * size))
            found.append(Text(text, num(x), num(base), num(size), back=back))
    return found
