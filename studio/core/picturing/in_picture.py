"""What a picture of a stock piece is made of: paths and places in the picture's millimetres.

The origin is the metal's upper left corner, y points down. Words and colours are the templates'
business.
"""

from __future__ import annotations

from dataclasses import dataclass

from shapely.geometry import MultiLineString, Polygon
from shapely.geometry.base import BaseGeometry

from .colours import Mark
from .edges import Edges
from .labels import number_of

LETTER_EM, LABEL_HEIGHT_EM = 0.62, 0.75


@dataclass(frozen=True, slots=True)
class PieceInPicture:
    """One piece as it lies: `label` such as "A" or "A2", its group, and paths."""

    label: str
    group: str
    piece: str
    copy: int
    path: str  # shell and windows, for the even-odd rule
    windows: str
    crosses: str
    drills: tuple[tuple[float, float, float], ...]  # centre x, y, radius
    surface: str
    at: tuple[float, float]  # for the label
    label_mm: float
    size_mm: tuple[float, float]
    corner: tuple[float, float] = (0.0, 0.0)  # upper left of the box around it
    mark: Mark | None = None  # whose it is, where several students share the picture

    @property
    def hue(self) -> str:
        """The class of its student's colour; none in a picture of one student's."""
        return self.mark.hue if self.mark else ""

    @property
    def label_reach_mm(self) -> float:
        """How far the label reaches from its middle."""
        return self.label_mm * max(LABEL_HEIGHT_EM, LETTER_EM * len(self.label)) / 2


@dataclass(frozen=True, slots=True)
class OffcutInPicture:
    """Metal that goes back to the rack: its path and its largest rectangle, longer side first.

    The largest of a plan is told as the plan measured it, never measured twice.
    """

    path: str
    at: tuple[float, float]
    label_mm: float
    upright: bool  # the label runs upwards, where the offcut is taller than wide
    area_mm2: float
    longer_mm: float
    shorter_mm: float
    at_once: bool = False  # goes back as soon as the metal is parted, not when its student is done


@dataclass(frozen=True, slots=True)
class CutInPicture:
    """A cut that parts the metal: the line of the blade, and what a saw takes (nothing for a
    shear). Its number stands with the starts."""

    number: int
    path: str
    kerf: str
    length_mm: float
    part: int  # through which part
    makes: tuple[int, int]


@dataclass(frozen=True, slots=True)
class BlankInPicture:
    """The part of a stock piece that one student gets; the sides are those of the box round it."""

    part: int
    group: str
    label: str
    mark: Mark | None
    path: str
    at: tuple[float, float]  # the middle of the roomiest place, for a label
    label_mm: float
    longer_mm: float
    shorter_mm: float
    area_mm2: float

    @property
    def hue(self) -> str:
        """The class of its student's colour; none in a picture of one student's."""
        return self.mark.hue if self.mark else ""


@dataclass(frozen=True, slots=True)
class Start:
    """Where a saw line begins, numbered in sawing order."""

    number: int
    kind: str
    label: str
    at: tuple[float, float]
    length_mm: float
    group: str = ""
    out_of_reach: bool = False  # deeper in the metal than the saw frame reaches
    mark: tuple[float, float] = (0.0, 0.0)  # where its number stands
    lead: str = ""  # from where it begins to a number that stands beside


@dataclass(frozen=True, slots=True)
class Letter:
    """A letter in the picture: what it stands for (a path, an area or lines) and its square."""

    text: str
    path: str
    is_area: bool
    first: bool  # of several parts of the same reason
    at: tuple[float, float]
    corner: tuple[float, float]
    side_mm: float
    lead: str


@dataclass(frozen=True, slots=True)
class Gains:
    """What speaks for a plan on one stock piece, in the metal's own millimetres, y up: with the
    groups whose pieces have it."""

    free: tuple[tuple[str, MultiLineString], ...] = ()
    for_two: tuple[tuple[frozenset[str], MultiLineString, float], ...] = ()  # and what it spares
    in_windows: tuple[tuple[str, Polygon], ...] = ()
    rectangles: tuple[Polygon, ...] = ()  # the largest in each offcut


@dataclass(frozen=True, slots=True)
class MetalPicture:
    """One touched stock piece."""

    code: str
    view_box: str
    closer_box: str  # around the pieces alone, where they take up little of the metal; else ""
    width_mm: float
    height_mm: float
    metal: str
    gone: str  # what earlier cutting took out of its middle
    edges: Edges
    clean: str  # the clean ones of them
    pieces: tuple[PieceInPicture, ...]
    offcuts: tuple[OffcutInPicture, ...]
    scrap: str
    shared: str
    free: str
    offcut_cuts: str
    offcut_cuts_mm: float
    pilots: str  # crosses at holes that the app has put into windows
    starts: tuple[Start, ...]
    not_to_hide: BaseGeometry  # windows and holes, in the picture's millimetres
    radius_mm: float  # of a starting point's mark
    text_mm: float
    deep: tuple[int, ...]  # numbers of lines that the saw frame does not reach
    deepest_mm: float
    holes: int
    piece_mm2: float
    kept_mm2: float
    scrap_mm2: float
    saw_line_mm: float
    gains: Gains = Gains()
    cuts: tuple[CutInPicture, ...] = ()  # in the order in which they part the metal
    blanks: tuple[BlankInPicture, ...] = ()
    sawn_apart: bool = False  # the cuts are the saw's
    parting_mm: float = 0.0
    letters: tuple[Letter, ...] = ()  # what speaks for the plan, keyed to the list beside it

    @property
    def marks(self) -> dict[str, Mark]:
        """The marks of the groups whose pieces lie on it, by letter; none of one student alone."""
        found = {piece.group: piece.mark for piece in self.pieces if piece.mark is not None}
        return dict(sorted(found.items(), key=lambda one: number_of(one[1].letter)))

    @property
    def is_shared(self) -> bool:
        """Whether it is a picture of several students' metal."""
        return bool(self.marks)

    @property
    def for_two_mm(self) -> float:
        """Sawing that is spared by cuts that free two pieces."""
        return sum(spared for _, _, spared in self.gains.for_two)
