"""What can stand in a recipe: every kind of step with its numbers, their bounds and words.

This one table is what recipes are checked against and what the page's forms are made of.
Lengths are millimetres, angles degrees anticlockwise, places are measured from the middle of
the paper, x to the right and y upwards.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

MOST_MM: Final = 600.0  # no brief asks for more
MOST_COPIES: Final = 48
LONGEST_TEXT: Final = 24


class Sort(StrEnum):
    """What kind of value a field takes."""

    LENGTH = "length"
    PLACE = "place"  # a length that may be negative
    ANGLE = "angle"
    COUNT = "count"
    PERCENT = "percent"
    TEXT = "text"
    CHOICE = "choice"


@dataclass(frozen=True, slots=True)
class Field:
    """One value of a step.

    `grows` says how it follows the size handle: "x" and "y" with that side alone, "both" with
    the whole shape, "" not at all. `group` is the part of the form it stands in.
    """

    name: str
    label: str
    sort: Sort
    usual: float | str
    least: float = 0.0
    most: float = 0.0
    choices: tuple[tuple[str, str], ...] = ()
    grows: str = ""
    group: str = "size"
    hint: str = ""
    when: tuple[tuple[str, tuple[str, ...]], ...] = ()  # matters if one of these is chosen


@dataclass(frozen=True, slots=True)
class Kind:
    """`of` is "shape" (an area that does something), "hole", "mark" or "all" (works on it all)."""

    name: str
    label: str
    of: str
    fields: tuple[Field, ...]

    def field(self, name: str) -> Field | None:
        return next((each for each in self.fields if each.name == name), None)


def _length(
    name: str, label: str, usual: float, least: float = 0.5, most: float = MOST_MM, **more: str
) -> Field:
    return Field(name, label, Sort.LENGTH, usual, least, most, **more)  # type: ignore[arg-type]


def _when(field: Field, *choices: tuple[str, tuple[str, ...]]) -> Field:
    return replace(field, when=choices)


def _count(name: str, label: str, usual: int, least: int, most: int, **more: str) -> Field:
    return Field(name, label, Sort.COUNT, usual, least, most, **more)  # type: ignore[arg-type]


def _place(name: str, label: str, group: str = "place", usual: float = 0.0) -> Field:
    return Field(name, label, Sort.PLACE, usual, -MOST_MM, MOST_MM, group=group)


def _choice(name: str, label: str, group: str, *choices: tuple[str, str], usual: str = "") -> Field:
    return Field(name, label, Sort.CHOICE, usual or choices[0][0], choices=choices, group=group)


class Role(StrEnum):
    """What a shape does to the metal that is there so far."""

    METAL = "metal"
    WINDOW = "window"
    COMMON = "common"
    LINE = "line"


ROLE: Final = _choice(
    "role",
    "What it does",
    "does",
    (Role.METAL, "adds metal"),
    (Role.WINDOW, "is cut away"),
    (Role.COMMON, "keeps only what lies in it"),
    (Role.LINE, "is a line on the surface"),
)
JOINS: Final = _when(
    _choice(
        "joins",
        "Metal that touches it",
        "does",
        ("joined", "becomes one piece with it"),
        ("apart", "stays a piece of its own"),
    ),
    ("role", ("metal",)),
)
_TURN: Final = Field("turn", "Turned by", Sort.ANGLE, 0.0, -360.0, 360.0, group="place")
_FLIP: Final = _choice(
    "flip", "Seen from", "place", ("no", "the front"), ("yes", "the back (mirrored)")
)
_WHERE: Final = (_place("x", "Right of the middle"), _place("y", "Above the middle"), _TURN)
_ROUND: Final = (
    Field("round_out", "Round corners outside", Sort.LENGTH, 0.0, 0.0, 50.0, group="corners"),
    Field("round_in", "Round corners inside", Sort.LENGTH, 0.0, 0.0, 50.0, group="corners"),
)
_FRAME: Final = Field(
    "frame",
    "Only a frame of it, wide",
    Sort.LENGTH,
    0.0,
    0.0,
    100.0,
    group="corners",
    hint="0 keeps it whole.",
)
_MIRRORS: Final = (
    ("across", "left and right"),
    ("down", "above and below"),
    ("both", "both ways"),
)
_CENTRE: Final = (
    _place("cx", "Middle of the copies, right", "copies"),
    _place("cy", "Middle of the copies, up", "copies"),
)
_MIRRORED: Final = tuple(key for key, _ in _MIRRORS)
_COPIES: Final = (
    _choice(
        "copies",
        "Repeat it",
        "copies",
        ("none", "once only"),
        ("around", "around a middle"),
        ("row", "in a row"),
    ),
    _when(
        _count("count", "How many in all", 6, 2, MOST_COPIES, group="copies"),
        ("copies", ("around", "row")),
    ),
    _when(_place("dx", "Each next one, right", "copies", 5.0), ("copies", ("row",))),
    _when(_place("dy", "Each next one, up", "copies"), ("copies", ("row",))),
    _choice("mirror", "Mirror it", "copies", ("none", "no"), *_MIRRORS),
    *(_when(each, ("copies", ("around",)), ("mirror", _MIRRORED)) for each in _CENTRE),
)
_USUAL: Final = (ROLE, JOINS, *_WHERE, _FLIP, *_ROUND, _FRAME, *_COPIES)


def _shape(name: str, label: str, *fields: Field) -> Kind:
    return Kind(name, label, "shape", (*fields, *_USUAL))


SHAPES: Final = (
    _shape("circle", "Disc", _length("diameter", "Across", 20.0, grows="both")),
    _shape(
        "ellipse",
        "Oval",
        _length("width", "Width", 30.0, grows="x"),
        _length("height", "Height", 20.0, grows="y"),
    ),
    _shape(
        "rectangle",
        "Rectangle",
        _length("width", "Width", 30.0, grows="x"),
        _length("height", "Height", 20.0, grows="y"),
        _length("corner", "Radius of its corners", 2.0, 0.0, 300.0),
    ),
    _shape(
        "polygon",
        "Polygon",
        _count("sides", "Sides", 6, 3, 24),
        _length("diameter", "Corner to corner", 24.0, grows="both"),
    ),
    _shape(
        "star",
        "Star",
        _count("points", "Points", 5, 3, 24),
        _length("diameter", "Across the points", 30.0, grows="both"),
        Field("inner", "Depth: inner corners at", Sort.PERCENT, 50.0, 10.0, 98.0),
    ),
    _shape(
        "drop",
        "Drop",
        _length("width", "Width", 10.0, grows="both"),
        _length("length", "Length", 18.0, grows="both"),
    ),
    _shape(
        "crescent",
        "Crescent",
        _length("diameter", "Across", 30.0, grows="both"),
        _length("bite", "Disc bitten out, across", 24.0, grows="both"),
        _length("shift", "Its middle moved by", 8.0, 0.0, grows="both"),
    ),
    _shape(
        "ring",
        "Ring",
        _length("diameter", "Across", 30.0, grows="both"),
        _length("band", "Width of the band", 5.0),
    ),
    _shape(
        "heart",
        "Heart",
        _length("width", "Width", 28.0, grows="x"),
        _length("height", "Height", 26.0, grows="y"),
    ),
    _shape(
        "letters",
        "Letters",
        Field("text", "Letters", Sort.TEXT, "AB", 1, LONGEST_TEXT),
        _length("height", "Height of a capital", 14.0, 2.0, 300.0, grows="both"),
        Field("spacing", "Space between them", Sort.PERCENT, 5.0, -10.0, 100.0),
        Field(
            "bridge",
            "Bridge to the middles",
            Sort.LENGTH,
            2.0,
            0.0,
            20.0,
            hint="The middles of o, A, B hang on bridges this wide. 0: they fall out.",
            when=(("role", ("window",)),),
        ),
    ),
)

TILES: Final = (
    ("triangles", "triangles"),
    ("squares", "squares"),
    ("hexagons", "hexagons"),
    ("scales", "scales"),
    ("twists", "twisted squares"),
)
TILING: Final = Kind(
    "tiling",
    "Tiles",
    "shape",
    (
        _choice("tile", "Tile", "size", *TILES, usual="hexagons"),
        _length("side", "Side of a tile", 8.0, 2.0, 100.0, grows="both"),
        _choice(
            "within",
            "How far they go",
            "size",
            ("count", "rows and columns"),
            ("disc", "a disc"),
            ("box", "a rectangle"),
            ("metal", "the metal so far"),
        ),
        _when(_count("columns", "Columns", 3, 1, 20), ("within", ("count",))),
        _when(_count("rows", "Rows", 3, 1, 20), ("within", ("count",))),
        _when(
            _length("width", "Width of disc or rectangle", 40.0, 2.0),
            ("within", ("disc", "box")),
        ),
        _when(_length("height", "Height of the rectangle", 30.0, 2.0), ("within", ("box",))),
        _when(
            _choice(
                "rim",
                "Tiles on the rim",
                "size",
                ("cut", "are cut there"),
                ("whole", "only whole tiles"),
            ),
            ("within", ("disc", "box", "metal")),
        ),
        *_WHERE,
    ),
)

HOLE: Final = Kind(
    "hole",
    "Drilled hole",
    "hole",
    (
        _choice("purpose", "It is for", "does", ("ring", "a ring"), ("rivet", "a rivet")),
        _length("diameter", "Drill", 1.6, 0.5, 6.4),
        _choice(
            "found",
            "Where",
            "place",
            ("edge", "as near the edge as the brief allows"),
            ("here", "where I put it"),
        ),
        _when(
            Field(
                "direction", "Seen from the middle", Sort.ANGLE, 90.0, -360.0, 360.0, group="place"
            ),
            ("found", ("edge",)),
        ),
        _when(
            _choice(
                "on", "On", "place", ("largest", "the largest piece"), ("every", "every piece")
            ),
            ("found", ("edge",)),
        ),
        _when(_place("x", "Right of the middle"), ("found", ("here",))),
        _when(_place("y", "Above the middle"), ("found", ("here",))),
        *_COPIES,
    ),
)

STROKE: Final = Kind(
    "stroke",
    "Engraved line",
    "mark",
    (
        _length("length", "Length", 20.0, grows="both"),
        Field("bend", "Bent by", Sort.ANGLE, 0.0, -270.0, 270.0),
        *_WHERE,
        *_COPIES,
    ),
)

ALL: Final = (
    Kind("all-round", "Round all corners", "all", tuple(_ROUND)),
    Kind(
        "all-frame",
        "Make a frame of it",
        "all",
        (_length("frame", "Width of the frame", 4.0, 0.2, 100.0),),
    ),
    Kind(
        "all-mirror",
        "Mirror it all",
        "all",
        (_choice("mirror", "Copy", "size", *_MIRRORS), *_CENTRE),
    ),
    Kind(
        "all-around",
        "Repeat it all around",
        "all",
        (_count("count", "How many in all", 6, 2, MOST_COPIES), *_CENTRE),
    ),
    Kind(
        "all-change",
        "Move, turn, scale it all",
        "all",
        (*_WHERE, Field("percent", "Scale to", Sort.PERCENT, 100.0, 10.0, 250.0)),
    ),
)

KINDS: Final = {kind.name: kind for kind in (*SHAPES, TILING, HOLE, STROKE, *ALL)}
