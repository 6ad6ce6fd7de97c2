"""What can stand in a recipe: every kind of step with its numbers, their bounds and words.

This one table is what recipes are checked against and what the page's forms are made of.
Lengths are millimetres, angles degrees anticlockwise, places are measured from the middle of
the paper, x to the right and y upwards.
"""

from __future__ import annotations

from typing import Final

from .fields import Field, Kind, Role, Sort, choice, count, length, place, when

MOST_COPIES: Final = 48
LONGEST_TEXT: Final = 24

ROLE: Final = choice(
    "role",
    "What it does",
    "does",
    (Role.METAL, "adds metal"),
    (Role.WINDOW, "is cut away"),
    (Role.COMMON, "keeps only what lies in it"),
    (Role.LINE, "is a surface line"),
)
JOINS: Final = when(
    choice(
        "joins",
        "Metal that touches it",
        "does",
        ("joined", "becomes one piece with it"),
        ("apart", "stays a piece of its own"),
    ),
    ("role", ("metal",)),
)
_TURN: Final = Field("turn", "Turned by", Sort.ANGLE, 0.0, -360.0, 360.0, group="place")
_FLIP: Final = choice(
    "flip", "Seen from", "place", ("no", "the front"), ("yes", "the back (mirrored)")
)
_WHERE: Final = (place("x", "Right of the middle"), place("y", "Above the middle"), _TURN)
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
    place("cx", "Middle of the copies, right", "copies"),
    place("cy", "Middle of the copies, up", "copies"),
)
_MIRRORED: Final = tuple(key for key, _ in _MIRRORS)
_COPIES: Final = (
    choice(
        "copies",
        "Repeat it",
        "copies",
        ("none", "once only"),
        ("around", "around a middle"),
        ("row", "in a row"),
    ),
    when(
        count("count", "How many in all", 6, 2, MOST_COPIES, group="copies"),
        ("copies", ("around", "row")),
    ),
    when(place("dx", "Each next one, right", "copies", 5.0), ("copies", ("row",))),
    when(place("dy", "Each next one, up", "copies"), ("copies", ("row",))),
    choice("mirror", "Mirror it", "copies", ("none", "no"), *_MIRRORS),
    *(when(each, ("copies", ("around",)), ("mirror", _MIRRORED)) for each in _CENTRE),
)
_USUAL: Final = (ROLE, JOINS, *_WHERE, _FLIP, *_ROUND, _FRAME, *_COPIES)


def _shape(name: str, label: str, *fields: Field) -> Kind:
    return Kind(name, label, "shape", (*fields, *_USUAL))


SHAPES: Final = (
    _shape("circle", "Disc", length("diameter", "Across", 20.0, grows="both")),
    _shape(
        "ellipse",
        "Oval",
        length("width", "Width", 30.0, grows="x"),
        length("height", "Height", 20.0, grows="y"),
    ),
    _shape(
        "rectangle",
        "Rectangle",
        length("width", "Width", 30.0, grows="x"),
        length("height", "Height", 20.0, grows="y"),
        length("corner", "Radius of its corners", 2.0, 0.0, 300.0),
    ),
    _shape(
        "polygon",
        "Polygon",
        count("sides", "Sides", 6, 3, 24),
        length("diameter", "Corner to corner", 24.0, grows="both"),
    ),
    _shape(
        "star",
        "Star",
        count("points", "Points", 5, 3, 24),
        length("diameter", "Across the points", 30.0, grows="both"),
        Field("inner", "Depth: inner corners at", Sort.PERCENT, 50.0, 10.0, 98.0),
    ),
    _shape(
        "drop",
        "Drop",
        length("width", "Width", 10.0, grows="both"),
        length("length", "Length", 18.0, grows="both"),
    ),
    _shape(
        "crescent",
        "Crescent",
        length("diameter", "Across", 30.0, grows="both"),
        length("bite", "Disc bitten out, across", 24.0, grows="both"),
        length("shift", "Its middle moved by", 8.0, 0.0, grows="both"),
    ),
    _shape(
        "ring",
        "Ring",
        length("diameter", "Across", 30.0, grows="both"),
        length("band", "Width of the band", 5.0),
    ),
    _shape(
        "heart",
        "Heart",
        length("width", "Width", 28.0, grows="x"),
        length("height", "Height", 26.0, grows="y"),
    ),
    _shape(
        "letters",
        "Letters",
        Field("text", "Letters", Sort.TEXT, "AB", 1, LONGEST_TEXT),
        length("height", "Height of a capital", 14.0, 2.0, 300.0, grows="both"),
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
        choice("tile", "Tile", "size", *TILES, usual="hexagons"),
        length("side", "Side of a tile", 8.0, 2.0, 100.0, grows="both"),
        choice(
            "within",
            "How far they go",
            "size",
            ("count", "rows and columns"),
            ("disc", "a disc"),
            ("box", "a rectangle"),
            ("metal", "the metal so far"),
        ),
        when(count("columns", "Columns", 3, 1, 20), ("within", ("count",))),
        when(count("rows", "Rows", 3, 1, 20), ("within", ("count",))),
        when(
            length("width", "Width of disc or rectangle", 40.0, 2.0),
            ("within", ("disc", "box")),
        ),
        when(length("height", "Height of the rectangle", 30.0, 2.0), ("within", ("box",))),
        when(
            choice(
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
    "Drill mark",
    "hole",
    (
        choice("purpose", "It is for", "does", ("ring", "a ring"), ("rivet", "a rivet")),
        length("diameter", "Drill", 1.6, 0.5, 6.4),
        choice(
            "found",
            "Where",
            "place",
            ("edge", "as near the edge as the brief allows"),
            ("here", "where I put it"),
        ),
        when(
            Field(
                "direction", "Seen from the middle", Sort.ANGLE, 90.0, -360.0, 360.0, group="place"
            ),
            ("found", ("edge",)),
        ),
        when(
            choice("on", "On", "place", ("largest", "the largest piece"), ("every", "every piece")),
            ("found", ("edge",)),
        ),
        when(place("x", "Right of the middle"), ("found", ("here",))),
        when(place("y", "Above the middle"), ("found", ("here",))),
        *_COPIES,
    ),
)

STROKE: Final = Kind(
    "stroke",
    "Surface line",
    "mark",
    (
        length("length", "Length", 20.0, grows="both"),
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
        (length("frame", "Width of the frame", 4.0, 0.2, 100.0),),
    ),
    Kind(
        "all-mirror",
        "Mirror it all",
        "all",
        (choice("mirror", "Copy", "size", *_MIRRORS), *_CENTRE),
    ),
    Kind(
        "all-around",
        "Repeat it all around",
        "all",
        (count("count", "How many in all", 6, 2, MOST_COPIES), *_CENTRE),
    ),
    Kind(
        "all-change",
        "Move, turn, scale it all",
        "all",
        (*_WHERE, Field("percent", "Scale to", Sort.PERCENT, 100.0, 10.0, 250.0)),
    ),
)

KINDS: Final = {kind.name: kind for kind in (*SHAPES, TILING, HOLE, STROKE, *ALL)}
