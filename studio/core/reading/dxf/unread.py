"""What stands in DXF drawings and cannot be sawn, with the way to mend it."""

from __future__ import annotations

_WRITING = (
    "text-unread",
    "Writing is not read.",
    "Turn the letters into lines (outlines) and save again.",
)
_HATCH = (
    "hatch-unread",
    "Hatching and fillings are not read.",
    "Draw the outline of the filled shape as a line; delete the filling.",
)
_MEASURE = (
    "dimension-unread",
    "Dimensions and arrows are not read.",
    "Nothing to do, unless a part of the piece was drawn with them.",
)
_PICTURE = (
    "image-unread",
    "A picture inside the drawing is not read.",
    "Trace the picture with lines, or hand in the picture itself as a scan.",
)
_SOLID = (
    "solid-unread",
    "Solid bodies and surfaces in space are not read.",
    "Draw the outline as flat lines, seen from above, and save the file again.",
)
_ENDLESS = (
    "endless-unread",
    "A line without an end (for construction) is not read.",
    "Nothing to do, unless it should be sawn: then draw it as a line with two ends.",
)
_POINT = (
    "point-unread",
    "Single points are not read.",
    "Draw a small circle where a hole should be drilled.",
)
_PARALLEL = (
    "multiline-unread",
    "A multiline (several lines drawn as one) is not read.",
    "Take it apart into single lines and save the file again.",
)
_OUTSIDE = (
    "reference-unread",
    "Another drawing that this one refers to is not read.",
    "Bind the other drawing into this one as a block, and save the file again.",
)

UNREAD: dict[str, tuple[str, str, str]] = {
    **dict.fromkeys(("TEXT", "MTEXT", "ATTRIB", "RTEXT", "ARCTEXT"), _WRITING),
    **dict.fromkeys(("HATCH", "MPOLYGON", "SOLID", "TRACE"), _HATCH),
    **dict.fromkeys(
        (
            "DIMENSION",
            "ARC_DIMENSION",
            "LARGE_RADIAL_DIMENSION",
            "LEADER",
            "MLEADER",
            "MULTILEADER",
            "TOLERANCE",
            "ACAD_TABLE",
        ),
        _MEASURE,
    ),
    **dict.fromkeys(("IMAGE", "WIPEOUT", "OLEFRAME", "OLE2FRAME"), _PICTURE),
    **dict.fromkeys(("PDFUNDERLAY", "DWFUNDERLAY", "DGNUNDERLAY"), _OUTSIDE),
    **dict.fromkeys(
        (
            "3DSOLID",
            "BODY",
            "REGION",
            "SURFACE",
            "3DFACE",
            "MESH",
            "HELIX",
            "PLANESURFACE",
            "EXTRUDEDSURFACE",
            "LOFTEDSURFACE",
            "REVOLVEDSURFACE",
            "SWEPTSURFACE",
            "NURBSURFACE",
        ),
        _SOLID,
    ),
    **dict.fromkeys(("RAY", "XLINE"), _ENDLESS),
    "POINT": _POINT,
    "MLINE": _PARALLEL,
}
"""Kind of entity to code, what to say and how to mend it."""

SILENT = frozenset({"VIEWPORT", "ATTDEF", "LIGHT", "SUN", "SECTION", "ACAD_PROXY_ENTITY"})
"""Has no line that anybody sees in the drawing."""
