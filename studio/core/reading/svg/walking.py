"""Walks the element tree as a viewer would and collects every curve that is drawn."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from xml.etree.ElementTree import Element

from studio.core.drawing import Finding, Weight

from ..bounds import MAX_DEPTH, Budget
from ..curves import Curve, Matrix, shift
from ..errors import PatternError
from .fault import Fault, quoted
from .lengths import Viewport
from .parsing import Tree, local_name
from .shapes import SHAPES, Values, curves_of
from .styles import Styles
from .transforms import parse_origin, parse_transform
from .viewports import ViewBox, fit, parse_viewbox

_CONTAINERS = frozenset({"svg", "g", "a", "switch"})
_HREF = ("href", "{http://www.w3.org/1999/xlink}href")
# What is drawn on paper but cannot be sawn, with the way to mend it.
_UNREAD = {
    "text": ("Writing is not read.", "Turn the letters into outlines (paths) and save again."),
    "image": (
        "A picture inside the drawing is not read.",
        "Trace the picture with lines, or hand in the picture itself as a scan.",
    ),
    "foreignObject": ("An embedded page is not read.", "Draw its lines as paths."),
    "animate": ("Movement is not read.", "Save the drawing as it should be sawn."),
    "animateTransform": ("Movement is not read.", "Save the drawing as it should be sawn."),
    "animateMotion": ("Movement is not read.", "Save the drawing as it should be sawn."),
    "set": ("Movement is not read.", "Save the drawing as it should be sawn."),
}
_EFFECTS = {
    "clip-path": "A clip is not read: the whole line is taken, also where it is hidden.",
    "mask": "A mask is not read: the whole line is taken, also where it is hidden.",
    "filter": "A filter effect is not read: the plain line is taken.",
    "marker": "Arrow heads and other markers on lines are not read.",
    "marker-start": "Arrow heads and other markers on lines are not read.",
    "marker-mid": "Arrow heads and other markers on lines are not read.",
    "marker-end": "Arrow heads and other markers on lines are not read.",
}


@dataclass(frozen=True, slots=True)
class Found:
    """One curve with the map from its user units to the page's px."""

    curve: Curve
    matrix: Matrix
    element: str
    name: str
    seen: bool  # has a fill or a stroke
    white: bool  # filled white with no stroke: perhaps only the paper


@dataclass(frozen=True, slots=True)
class _Place:
    """What an element takes over from those around it."""

    matrix: Matrix
    viewport: Viewport
    style: dict[str, str]
    hidden: bool = False
    open: frozenset[Element] = frozenset()


@dataclass(slots=True)
class Walk:
    """One walk over one file; `found` and `findings` grow while it goes."""

    tree: Tree
    styles: Styles
    budget: Budget
    found: list[Found] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    _ids: dict[str, Element] = field(default_factory=dict)
    _said: set[str] = field(default_factory=set)

    def from_root(self, matrix: Matrix, viewport: Viewport) -> None:
        for element in self.tree.root.iter():
            name = element.get("id")
            if name:
                self._ids.setdefault(name, element)
        root = self.tree.root
        place = _Place(matrix, viewport, {}, open=frozenset({root}))
        try:
            inner = self._entered(root, self.styles.of(root), place)
        except Fault as fault:
            raise PatternError(fault.code, fault.message, fault.mend) from fault
        if inner is not None:
            self._children(root, inner)

    def _children(self, parent: Element, place: _Place) -> None:
        for child in parent:
            self._visit(child, place)
            if local_name(parent) == "switch" and not _refuses(child):
                return

    def _visit(self, element: Element, place: _Place) -> None:
        tag = local_name(element)
        if tag in _UNREAD:
            self._caution(tag, *_UNREAD[tag])
        if tag not in SHAPES and tag not in _CONTAINERS and tag != "use":
            return
        self.budget.spend_element()
        if len(place.open) > MAX_DEPTH:
            raise PatternError(
                "too-deep",
                "The shapes of this drawing are re-used inside each other too deeply.",
                "Unlink the copies (make them real shapes) and save again.",
            )
        try:
            properties = self.styles.of(element)
            entered = self._entered(element, properties, place)
            if entered is None:
                return
            if tag in SHAPES:
                self._shape(tag, element, properties, entered)
                return
            if tag == "svg":
                entered = self._nested(element, properties, entered, {})
            if tag != "use":
                self._children(element, entered)
                return
            target, inside = self._reuse(element, properties, entered)
        except Fault as fault:
            self.findings.append(Finding(fault.code, Weight.STOP, fault.message, fault.mend))
            return
        if target is not None:
            self._reused(target, inside)

    def _entered(
        self, element: Element, properties: dict[str, str], place: _Place
    ) -> _Place | None:
        """The place inside this element, or None when it is not displayed."""
        if properties.get("display", "").strip() == "none":
            return None
        style = dict(place.style)
        for name in ("visibility", "fill", "stroke"):
            value = properties.get(name, "").strip()
            if value and value != "inherit":
                style[name] = value
        for name, message in _EFFECTS.items():
            if properties.get(name, "none").strip() not in ("none", ""):
                self._caution(name.split("-")[0], message, "Draw the line as it should be sawn.")
        matrix = place.matrix
        text = properties.get("transform", "").strip()
        if text:
            matrix = matrix @ self._transform(element, text, properties, place.viewport)
        hidden = place.hidden or _is_zero(properties.get("opacity", ""))
        return replace(
            place, matrix=matrix, style=style, hidden=hidden, open=place.open | {element}
        )

    def _transform(
        self, element: Element, text: str, properties: dict[str, str], viewport: Viewport
    ) -> Matrix:
        what = f"The transform of {self._what(element)}"
        own = parse_transform(text, what)
        box = properties.get("transform-box", "view-box").strip()
        origin = properties.get("transform-origin", "").strip()
        if origin:
            if box != "view-box":
                raise Fault(
                    "transform-origin",
                    f"{what} turns about {quoted(box)}, which cannot be read here.",
                    "Save the file again as plain SVG.",
                )
            x, y = parse_origin(origin, f"The transform-origin of {self._what(element)}", viewport)
            own = shift(x, y) @ own @ shift(-x, -y)
        if not own.is_finite or own.flattens_everything:
            raise Fault(
                "transform-flat",
                f"{what} squeezes it flat, so that nothing is left of it.",
                "Undo the scaling or skewing of this shape, or delete it.",
            )
        return own

    def _shape(self, tag: str, element: Element, properties: dict[str, str], place: _Place) -> None:
        if place.style.get("visibility", "visible") in ("hidden", "collapse"):
            return
        values = Values(properties, place.viewport, self._what(element))
        fill = place.style.get("fill", "black")
        stroke = place.style.get("stroke", "none")
        filled = _paints(fill, properties.get("fill-opacity", "")) and tag != "line"
        stroked = _paints(stroke, properties.get("stroke-opacity", ""))
        name = "".join(char for char in element.get("id", "") if char.isprintable())[:40]
        for curve in curves_of(tag, values, self.budget):
            self.found.append(
                Found(
                    curve,
                    place.matrix,
                    tag,
                    name,
                    seen=(filled or stroked) and not place.hidden,
                    white=filled and not stroked and _is_white(fill),
                )
            )

    def _nested(
        self,
        element: Element,
        properties: dict[str, str],
        place: _Place,
        size: dict[str, str],
    ) -> _Place:
        """Inside a nested `<svg>` or a `<symbol>`; `size` is the width and height of a use."""
        merged = {**properties, **size}
        values = Values(merged, place.viewport, self._what(element))
        across, down = place.viewport.width, place.viewport.height
        at_x = at_y = 0.0
        if local_name(element) == "svg":
            at_x, at_y = values.length("x", across), values.length("y", down)
        width, height = values.auto("width", across), values.auto("height", down)
        width = across if width is None else width
        height = down if height is None else height
        matrix = place.matrix @ shift(at_x, at_y)
        box_text = element.get("viewBox")
        if width == 0.0 or height == 0.0:
            raise Fault(
                "size-zero",
                f"{self._what(element)} has no size, so nothing in it can be seen.",
                "Give it a width and a height.",
            )
        if not box_text:
            return replace(place, matrix=matrix, viewport=Viewport(width, height))
        what = self._what(element)
        box: ViewBox = parse_viewbox(box_text, what)
        fitted = fit(box, width, height, element.get("preserveAspectRatio", ""), what)
        return replace(place, matrix=matrix @ fitted, viewport=box.viewport)

    def _reuse(
        self, element: Element, properties: dict[str, str], place: _Place
    ) -> tuple[Element | None, _Place]:
        """What a `<use>` points at and the place in which to draw it."""
        self.budget.spend_reuse()
        link = next((element.get(name) for name in _HREF if element.get(name)), "") or ""
        target = self._ids.get(link[1:]) if link.startswith("#") else None
        if target is None:
            raise Fault(
                "use-missing",
                f"{self._what(element)} repeats {quoted(link)}, which is not in this file.",
                "Copy the shape into this drawing, or delete the empty copy.",
            )
        if target in place.open:
            raise Fault(
                "use-loop",
                f"{self._what(element)} repeats a shape that contains it, without end.",
                "Delete this copy and draw the shape again.",
            )
        values = Values(properties, place.viewport, self._what(element))
        x = values.length("x", place.viewport.width)
        y = values.length("y", place.viewport.height)
        place = replace(place, matrix=place.matrix @ shift(x, y))
        if local_name(target) not in ("svg", "symbol"):
            return target, place
        own = self.styles.of(target)
        entered = self._entered(target, own, place)
        if entered is None:
            return None, place
        size = {k: properties[k] for k in ("width", "height") if properties.get(k)}
        return target, self._nested(target, own, entered, size)

    def _reused(self, target: Element, place: _Place) -> None:
        if local_name(target) in ("svg", "symbol"):
            self._children(target, place)
        else:
            self._visit(target, place)

    def _what(self, element: Element) -> str:
        name = element.get("id")
        label = f" {quoted(name, 30)}" if name else ""
        return f"the <{local_name(element)}>{label} on line {self.tree.lines.get(element, 0)}"

    def _caution(self, code: str, message: str, mend: str) -> None:
        if message not in self._said:
            self._said.add(message)
            code = "animation" if code.startswith(("animate", "set")) else code.lower()
            self.findings.append(Finding(f"{code}-unread", Weight.CAUTION, message, mend))


def _refuses(child: Element) -> bool:
    """Whether a `<switch>` passes over this child and tries the next."""
    return not local_name(child) or bool(child.get("requiredExtensions"))


def _paints(paint: str, opacity: str) -> bool:
    return paint not in ("none", "transparent") and not _is_zero(opacity)


def _is_zero(opacity: str) -> bool:
    text = opacity.strip().rstrip("%")
    try:
        return bool(text) and float(text) == 0.0
    except ValueError:
        return False


def _is_white(fill: str) -> bool:
    compact = fill.lower().replace(" ", "")
    return compact in ("white", "#fff", "#ffffff", "rgb(255,255,255)")
