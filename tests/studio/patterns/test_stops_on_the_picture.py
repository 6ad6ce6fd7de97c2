"""Every stop that has a place is shown with the line it speaks of, never beside an empty field."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from shapely.geometry import GeometryCollection, LineString, Point
from shapely.geometry.base import BaseGeometry

from classroom.models import School
from studio.core import checking, reading
from studio.core.checking import check, walls
from studio.core.drawing import Limits
from studio.core.reading import assemble, read_pattern
from studio.models import Pattern
from studio.views.patterns.lines import read_lines
from studio.views.patterns.picture import PatternPicture, picture

from .making import svg

SHEET = '<path d="M5 5H45V35H5Z"/>'
STOPS = {
    "line-crosses-itself": '<path d="M10 10 L50 35 L50 10 L10 35 Z"/>',
    "line-crosses-itself beside a piece": SHEET + '<path d="M50 5 L58 15 L58 5 L50 15 Z"/>',
    "line-crosses-itself in a piece": SHEET + '<path d="M10 10 L40 30 L40 10 L10 30 Z"/>',
    "lines-cross": SHEET + '<rect x="40" y="10" width="12" height="10"/>',
    "window-touches": SHEET + '<rect x="5" y="10" width="10" height="10"/>',
    "line-open": SHEET + '<path d="M47 10 H58 V20"/>',
    "line-open alone": '<path d="M5 5H45V25H5"/>',
    "hole-edge": SHEET + '<circle cx="6.5" cy="20" r="0.8"/>',
    "holes-close": SHEET + '<circle cx="12" cy="20" r="0.8"/><circle cx="14" cy="20" r="0.8"/>',
    "window-small": SHEET + '<rect x="20" y="15" width="1" height="6"/>',
    "bridge-thin": SHEET
    + '<rect x="12" y="12" width="8" height="8"/><rect x="21" y="12" width="8" height="8"/>',
    "web-thin": SHEET + '<rect x="6" y="12" width="8" height="8"/>',
    "neck-thin": '<path d="M5 5H20V14H30V5H45V25H30V15H20V25H5Z"/>',
    "slot-narrow": '<path d="M5 5H45V35H25.2V15H25V35H5Z"/>',
    "piece-thin": '<path d="M5 5H45V6H5Z"/>',
    "too-large": '<path d="M0 0H200V150H0Z"/>',
    "pieces-overlap": SHEET + '<rect x="40" y="10" width="12" height="10"/>',
}
OF_PIECES = {"too-large", "pieces-overlap"}


def pattern_of(body: str) -> Pattern:
    tracing = read_pattern(svg(body))
    assembly = assemble(tracing)
    findings = (*tracing.findings, *assembly.findings, *check(assembly.drawing, Limits()))
    return Pattern(
        number=1,
        tracing=tracing.to_json(),
        drawing_json=assembly.drawing.to_json(),
        findings_json=[finding.to_json() for finding in findings],
    )


def drawn(shown: PatternPicture) -> GeometryCollection:
    """Everything that the picture draws, back in the drawing's millimetres."""
    ways: list[BaseGeometry] = []
    for path in (*shown.pieces, shown.windows, shown.loose, shown.surfaces):
        for way, closed in re.findall(r"M([^MZ]+)(Z?)", path):
            pairs = (pair.split() for pair in way.split("L"))
            points = [(float(x), -float(y)) for x, y in pairs]
            ways.append(LineString([*points, points[0]] if closed else points))
    for hole in shown.drills:
        ways.append(Point(float(hole.x), -float(hole.y)).buffer(float(hole.r)).exterior)
    return GeometryCollection(ways)


@pytest.mark.parametrize("asked", STOPS)
def test_a_stop_is_shown_with_its_line(asked: str) -> None:
    pattern = pattern_of(STOPS[asked])
    stops = [finding for finding in pattern.stops if finding.code == asked.split()[0]]
    assert stops, [finding.code for finding in pattern.findings]
    lines, labels = read_lines(pattern)
    for shown in (
        picture(pattern, school=School()),
        picture(pattern, school=School(), lines=lines, labels=labels),
    ):
        box = [float(number) for number in shown.view_box.split()]
        for stop in stops:
            assert stop.at is not None
            # What lies between two lines is as far from each as half of what was measured; what
            # is said of a whole piece stands in its middle.
            reach = (stop.value_mm or 0.0) / 2 + 0.05 if asked not in OF_PIECES else 100.0
            assert drawn(shown).distance(Point(stop.at)) <= reach
            x, y = stop.at[0] - box[0], -stop.at[1] - box[1]
            assert 0 <= x <= box[2]
            assert 0 <= y <= box[3]


def test_every_kind_of_stop_that_has_a_place_is_looked_at_here() -> None:
    shown = {name.split()[0] for name in STOPS}
    told = {
        code
        for package in (checking, reading)
        for folder in (Path(package.__path__[0]), Path(package.__path__[0], "joining"))
        for source in folder.glob("*.py")
        for code in placed_stops(source.read_text(encoding="utf-8"))
    }
    assert told - shown == {"too-detailed"}  # it takes a drawing of 50 000 corners
    assert set(walls._WORDS) <= shown


def placed_stops(source: str) -> Iterator[str]:
    """Codes of the stops that the module tells with a point, as far as they are written out."""
    for found in re.finditer(r'Finding\(\s*"([a-z-]+)",\s*Weight\.STOP,(.*?)\n\s*\)', source, re.S):
        if "at=" in found[2]:
            yield found[1]
