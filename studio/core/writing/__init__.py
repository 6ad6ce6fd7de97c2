"""Writing drawings and cut plans as SVG and DXF in true millimetres.

    written(drawing_sheet(drawing, "Fish"), "dxf")

Reading a written drawing gives the same drawing: layers and ids carry the names by which the
reader knows windows, drill marks and surface lines again. Curves are written as the short
straight lines that the drawing holds.
"""

from collections.abc import Callable

from .dxf import to_dxf
from .sheet import Sheet, drawing_sheet, plan_sheet
from .svg import to_svg

WRITERS: dict[str, Callable[[Sheet], bytes]] = {"svg": to_svg, "dxf": to_dxf}
MEDIA_TYPES = {"svg": "image/svg+xml", "dxf": "image/vnd.dxf"}


def written(sheet: Sheet, kind: str) -> bytes:
    """The bytes of the file. Raises KeyError for a kind that is not in `WRITERS`."""
    return WRITERS[kind](sheet)


__all__ = ["MEDIA_TYPES", "WRITERS", "Sheet", "drawing_sheet", "plan_sheet", "written"]
