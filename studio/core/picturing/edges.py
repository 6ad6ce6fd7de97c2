"""Which of a stock piece's edges are clean? Pure."""

from __future__ import annotations

from enum import StrEnum

import shapely
from shapely.geometry import LineString, MultiLineString

from studio.core.cutting.job import Stock
from studio.core.verifying.part_metal import PartMetal

ON_LINE_MM = 0.05


class Edges(StrEnum):
    """What to call the edges of a stock piece in a word."""

    CLEAN = "clean"
    ROUGH = "rough"
    BOTH = "both"


def clean_lines(metal: Stock) -> MultiLineString:
    """The outline's clean stretches, windows included, in the metal's own millimetres."""
    if not metal.clean_edges:
        return MultiLineString()
    rings, rough = _rings(metal), _not_clean(metal)
    if rough.is_empty:
        return rings
    rest = rings.difference(rough.buffer(ON_LINE_MM, cap_style="flat"))
    lines = shapely.line_merge(rest) if rest.geom_type == "MultiLineString" else rest
    return MultiLineString(
        [one for one in shapely.get_parts(lines) if isinstance(one, LineString) and one.length]
    )


def rough_lines(metal: Stock) -> MultiLineString:
    """The outline's other stretches, windows included."""
    if not metal.clean_edges:
        return _rings(metal)
    return _not_clean(metal)


def _not_clean(metal: Stock) -> MultiLineString:
    """Rough stretches of an outline that is clean elsewhere; an edge that a cut has made counts as
    one, for nothing may lie on it."""
    rough = metal.rough_edges or MultiLineString()
    if isinstance(metal, PartMetal):
        return MultiLineString([*rough.geoms, *metal.cut_edges.geoms])
    return rough


def _rings(metal: Stock) -> MultiLineString:
    return MultiLineString(
        [ring for part in metal.parts for ring in (part.exterior, *part.interiors)]
    )


def edges_of(metal: Stock) -> Edges:
    """Whether a stock piece has clean edges, rough ones or both."""
    if clean_lines(metal).is_empty:
        return Edges.ROUGH
    return Edges.CLEAN if _not_clean(metal).is_empty else Edges.BOTH
