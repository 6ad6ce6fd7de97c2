"""How a `viewBox` is fitted into its viewport, and how large the page really is."""

from __future__ import annotations

from dataclasses import dataclass

from ..curves import Matrix, shift, stretch
from ..errors import PatternError
from .fault import Fault, quoted
from .lengths import MM_PER_PX, PHYSICAL_UNITS, Length, Viewport, parse_length
from .scanning import Scanner

_FALLBACK = Viewport(300.0, 150.0)  # CSS's size for a replaced element without any of its own
_ALIGN = {"min": 0.0, "mid": 0.5, "max": 1.0}


@dataclass(frozen=True, slots=True)
class ViewBox:
    x: float
    y: float
    width: float
    height: float

    @property
    def viewport(self) -> Viewport:
        return Viewport(self.width, self.height)


def parse_viewbox(text: str, what: str) -> ViewBox:
    scanner = Scanner(text, f"The viewBox of {what}")
    values = []
    for index in range(4):
        scanner.skip_space()
        if index:
            scanner.skip_comma()
        values.append(scanner.number())
    scanner.skip_space()
    if not scanner.done:
        raise scanner.fault("the end")
    box = ViewBox(*values)
    if box.width <= 0.0 or box.height <= 0.0:
        raise Fault(
            "size-zero",
            f"The viewBox of {what} has no size: {box.width:g} by {box.height:g}.",
            "Set the page to the size of your drawing and save again.",
        )
    return box


def fit(box: ViewBox, width: float, height: float, aspect: str, what: str) -> Matrix:
    """The map from the viewBox into a viewport of this size at the origin.

    `aspect` is the text of preserveAspectRatio: any alignment with meet or slice, or none.
    """
    words = aspect.split()
    if words and words[0] == "defer":
        words = words[1:]
    align = words[0] if words else "xMidYMid"
    across, down = width / box.width, height / box.height
    if align == "none":
        return stretch(across, down) @ shift(-box.x, -box.y)
    known = len(align) == 8 and align[0] == "x" and align[4] == "Y"
    x_align, y_align = align[1:4].lower(), align[5:8].lower()
    slice_it = len(words) > 1 and words[1] == "slice"
    if not known or x_align not in _ALIGN or y_align not in _ALIGN or len(words) > 2:
        raise Fault(
            "syntax",
            f"The preserveAspectRatio of {what} is {quoted(aspect)}, which cannot be read.",
            "Save the file again as plain SVG.",
        )
    scale = max(across, down) if slice_it else min(across, down)
    x = (width - box.width * scale) * _ALIGN[x_align]
    y = (height - box.height * scale) * _ALIGN[y_align]
    return shift(x, y) @ stretch(scale, scale) @ shift(-box.x, -box.y)


@dataclass(frozen=True, slots=True)
class Page:
    """The outermost viewport: its size, the map of its contents to px, and how we know."""

    width_px: float
    height_px: float
    matrix: Matrix
    inner: Viewport
    units: str
    assumed: bool

    @property
    def width_mm(self) -> float:
        return self.width_px * MM_PER_PX

    @property
    def height_mm(self) -> float:
        return self.height_px * MM_PER_PX


def page_of(attributes: dict[str, str]) -> Page:
    """Reads width, height, viewBox and preserveAspectRatio of the outermost `<svg>`.

    A side without a physical unit is taken as px at 96 to the inch and the page is marked as
    assumed, unless the other side has one and the viewBox gives the proportion.
    """
    what = "the <svg> element"
    try:
        box = parse_viewbox(attributes["viewBox"], what) if attributes.get("viewBox") else None
        width = _side(attributes.get("width"), "The width of " + what)
        height = _side(attributes.get("height"), "The height of " + what)
        natural = box.viewport if box else _FALLBACK
        wide = width.px(natural.width) if width else None
        high = height.px(natural.height) if height else None
        if wide is None and high is None:
            wide, high = natural.width, natural.height
        elif wide is None and high is not None:
            wide = high * natural.width / natural.height if box else natural.width
        elif high is None and wide is not None:
            high = wide * natural.height / natural.width if box else natural.height
        assert wide is not None
        assert high is not None
        if wide <= 0.0 or high <= 0.0:
            raise Fault(
                "size-zero",
                f"The page of this drawing has no size: {wide:g} by {high:g}.",
                "Set the page to the size of your drawing and save again.",
            )
        aspect = attributes.get("preserveAspectRatio", "")
        matrix = fit(box, wide, high, aspect, what) if box else Matrix()
    except Fault as fault:
        raise PatternError(fault.code, fault.message, fault.mend) from fault
    unit = next((side.unit for side in (width, height) if side and side.unit), "px")
    physical = any(side is not None and side.unit in PHYSICAL_UNITS for side in (width, height))
    inner = box.viewport if box else Viewport(wide, high)
    return Page(wide, high, matrix, inner, unit, assumed=not physical)


def _side(text: str | None, what: str) -> Length | None:
    if text is None or not text.strip() or text.strip() == "auto":
        return None
    length = parse_length(text, what)
    return None if length.unit == "%" else length
