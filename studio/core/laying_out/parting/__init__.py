"""Parting cuts on the layout table: the parts that they make, and how hands change them.

A cut is named by its stock piece and its number there, from 0, in the order of cutting. Lengths
in mm, angles in degrees anticlockwise, y upwards. What is wrong with cuts the judge alone says.
"""

from .cutting import (
    STRAIGHT_DEG,
    added,
    from_edges,
    laid_at,
    leans,
    line_of,
    removed,
    shifted,
    sized,
    turned,
)
from .lines import Line, along, runs_in, spread
from .named import Named, NoCut, cut_of, number_among
from .parts import Parts, groups_in, half_kerf_mm, parts_on, sawn_apart_mm
from .taken_along import taken_along

__all__ = [
    "STRAIGHT_DEG",
    "Line",
    "Named",
    "NoCut",
    "Parts",
    "added",
    "along",
    "cut_of",
    "from_edges",
    "groups_in",
    "half_kerf_mm",
    "laid_at",
    "leans",
    "line_of",
    "number_among",
    "parts_on",
    "removed",
    "runs_in",
    "sawn_apart_mm",
    "shifted",
    "sized",
    "spread",
    "taken_along",
    "turned",
]
