"""Which CSS values an element has: attributes, then style sheets, then its own style."""

from __future__ import annotations

from collections.abc import Iterable
from xml.etree.ElementTree import Element

import cssselect2
import tinycss2

from ..bounds import MAX_STYLE_BYTES
from ..errors import PatternError
from .parsing import local_name

GEOMETRY = frozenset({"x", "y", "width", "height", "cx", "cy", "r", "rx", "ry"})
ATTRIBUTES_ONLY = frozenset({"d", "points", "x1", "y1", "x2", "y2"})
INHERITED = frozenset({"visibility", "fill", "stroke"})
OTHER = frozenset(
    {
        "display",
        "opacity",
        "fill-opacity",
        "stroke-opacity",
        "transform",
        "transform-origin",
        "transform-box",
        "clip-path",
        "mask",
        "filter",
        "marker",
        "marker-start",
        "marker-mid",
        "marker-end",
    }
)
_WANTED = GEOMETRY | INHERITED | OTHER
_MOST_MATCHES = 1_000_000  # rules times elements

Declarations = list[tuple[str, str, bool]]


class Styles:
    """The style sheets of one file, ready to be asked about any element of its tree."""

    def __init__(self, root: Element, elements: int) -> None:
        self.skipped: list[str] = []
        self._matcher = cssselect2.Matcher()
        self._parsed: dict[str, Declarations] = {}
        self._values: dict[Element, dict[str, str]] = {}
        self._left = MAX_STYLE_BYTES
        self._wrappers: dict[Element, cssselect2.ElementWrapper] = {}
        rules = 0
        size = 0
        for element in root.iter():
            if local_name(element) == "style" and element.text:
                size += len(element.text)
                if size > MAX_STYLE_BYTES:
                    raise _too_much()
                rules += self._add_sheet(element.text)
        if rules * elements > _MOST_MATCHES:
            raise _too_much()
        if rules:
            wrapper = cssselect2.ElementWrapper.from_xml_root(root)
            self._wrappers = {each.etree_element: each for each in wrapper.iter_subtree()}

    def _add_sheet(self, text: str) -> int:
        count = 0
        try:
            for rule in tinycss2.parse_stylesheet(text, skip_comments=True, skip_whitespace=True):
                if rule.type != "qualified-rule":
                    if rule.type == "at-rule" and rule.lower_at_keyword in ("import", "media"):
                        self.skipped.append("@" + rule.lower_at_keyword)
                    continue
                declarations = _wanted(rule.content)
                if declarations:
                    count += self._add_rule(rule.prelude, declarations)
        except (RecursionError, ValueError):  # nested too deeply, or a number of many digits
            self.skipped.append("a style sheet")
        return count

    def _add_rule(self, prelude: list[tinycss2.ast.Node], declarations: Declarations) -> int:
        selector = tinycss2.serialize(prelude).strip()
        # Only selectors that cost no more than the element's ancestors: siblings and
        # functions such as :has() could be made to take hours.
        if len(selector) > 1_000 or any(char in selector for char in ":~+"):
            self.skipped.append(selector)
            return 0
        try:
            compiled = cssselect2.compile_selector_list(prelude)
        except cssselect2.SelectorError:
            self.skipped.append(selector)
            return 0
        for each in compiled:
            self._matcher.add_selector(each, declarations)
        return len(compiled)

    def of(self, element: Element) -> dict[str, str]:
        """The element's own values, not inherited ones; not to be changed."""
        if element not in self._values:
            self._values[element] = self._cascade(element)
        return self._values[element]

    def _cascade(self, element: Element) -> dict[str, str]:
        values = {
            name: value
            for name, value in element.attrib.items()
            if name in _WANTED or name in ATTRIBUTES_ONLY
        }
        important: dict[str, str] = {}
        sources: list[Declarations] = []
        wrapper = self._wrappers.get(element)
        if wrapper is not None:
            sources += [payload for _, _, _, payload in self._matcher.match(wrapper)]
        if element.get("style"):
            sources.append(self._own(element.attrib["style"]))
        for declarations in sources:
            for name, value, is_important in declarations:
                if is_important:
                    important[name] = value
                else:
                    values[name] = value
        return values | important

    def _own(self, text: str) -> Declarations:
        """The parsed style attribute; equal texts are parsed once, all together bounded."""
        if text not in self._parsed:
            self._left -= len(text)
            if self._left < 0:
                raise _too_much()
            try:
                self._parsed[text] = _wanted(tinycss2.parse_blocks_contents(text))
            except (RecursionError, ValueError):
                self.skipped.append("a style")
                self._parsed[text] = []
        return self._parsed[text]


def _wanted(content: Iterable[tinycss2.ast.Node]) -> Declarations:
    nodes = list(content)
    if not all(node.type == "declaration" for node in nodes):
        nodes = tinycss2.parse_blocks_contents(nodes)
    return [
        (node.lower_name, tinycss2.serialize(node.value).strip(), node.important)
        for node in nodes
        if node.type == "declaration" and node.lower_name in _WANTED
    ]


def _too_much() -> PatternError:
    return PatternError(
        "style-large",
        "The style sheets of this file are too large to read.",
        "Save the file as plain SVG, with styles written on the shapes.",
    )
