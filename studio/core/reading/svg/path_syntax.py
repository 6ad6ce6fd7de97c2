"""Path data: all commands, absolute and relative, implicit repeats, compact flags.

SVG asks a viewer to draw up to a mistake and drop the rest in silence. A saw would follow
half an outline, so a mistake here refuses the whole path and says where it stands. fontTools'
parser does neither, and makes cubics of arcs, which are kept exact here.
"""

from __future__ import annotations

import math

from ..bounds import Budget
from ..curves import Arc, Cubic, Curve, Span, Straight, quadratic
from ..tracing import Point
from .scanning import Scanner

_COMMANDS = "MmZzLlHhVvCcSsQqTtAa"


def parse_path(text: str, what: str, budget: Budget) -> list[Curve]:
    """The path's subpaths as curves in user units; raises `Fault`. Single points are left out."""
    reader = _PathReader(text, what, budget)
    reader.read()
    return reader.curves


class _PathReader:
    def __init__(self, text: str, what: str, budget: Budget) -> None:
        self.scanner = Scanner(text, what)
        self.budget = budget
        self.curves: list[Curve] = []
        self.start: Point = (0.0, 0.0)
        self.pen: Point = (0.0, 0.0)
        self.spans: list[Span] = []
        # Reflected by S and T; None unless the command before was of the same family.
        self.cubic_control: Point | None = None
        self.quadratic_control: Point | None = None

    def read(self) -> None:
        scanner = self.scanner
        scanner.skip_space()
        if scanner.done or scanner.text[scanner.at :] == "none":
            return
        if scanner.next not in "Mm":
            raise scanner.fault("“M”, with which every path begins,")
        while not scanner.done:
            command = scanner.next
            if command not in _COMMANDS:
                raise scanner.fault("a path command")
            scanner.at += 1
            scanner.skip_space()
            if command in "Zz":
                self._close()
                continue
            self._repeat(command)
        self._finish(closed=False)

    def _repeat(self, command: str) -> None:
        """Reads the command's numbers as often as they come."""
        scanner = self.scanner
        while True:
            self.budget.spend_path_points(1)
            self._one(command.lower(), relative=command.islower())
            # Pairs after the first of a move are lines.
            command = {"M": "L", "m": "l"}.get(command, command)
            if scanner.skip_comma():
                if not scanner.at_number:
                    raise scanner.fault("a number")
            elif not scanner.at_number:
                return

    def _one(self, command: str, *, relative: bool) -> None:
        base = self.pen if relative else (0.0, 0.0)
        cubic, quad = self.cubic_control, self.quadratic_control
        self.cubic_control = self.quadratic_control = None
        if command == "m":
            self._finish(closed=False)
            self.start = self.pen = self._point(base)
        elif command == "l":
            self._add(Straight(self._point(base)))
        elif command == "h":
            self._add(Straight((self.scanner.number() + base[0], self.pen[1])))
        elif command == "v":
            self._add(Straight((self.pen[0], self.scanner.number() + base[1])))
        elif command in "cs":
            first = self._next_point(base) if command == "c" else _mirrored(cubic, self.pen)
            second = self._next_point(base)
            self._add(Cubic(first, second, self._point(base)))
            self.cubic_control = second
        elif command in "qt":
            control = self._next_point(base) if command == "q" else _mirrored(quad, self.pen)
            end = self._point(base)
            self._add(quadratic(self.pen, control, end))
            self.quadratic_control = control
        else:
            self._arc(base)

    def _arc(self, base: Point) -> None:
        scanner = self.scanner
        values = []
        for _ in range(3):
            values.append(scanner.number())
            scanner.skip_comma()
        large = scanner.flag()
        scanner.skip_comma()
        sweep = scanner.flag()
        scanner.skip_comma()
        end = self._point(base)
        span = arc_between(self.pen, end, values[0], values[1], values[2], large, sweep)
        if span is not None:
            self._add(span)

    def _point(self, base: Point) -> Point:
        x = self.scanner.number()
        self.scanner.skip_comma()
        return x + base[0], self.scanner.number() + base[1]

    def _next_point(self, base: Point) -> Point:
        point = self._point(base)
        self.scanner.skip_comma()
        return point

    def _add(self, span: Span) -> None:
        self.spans.append(span)
        self.pen = span.end

    def _close(self) -> None:
        self._finish(closed=True)
        self.pen = self.start
        self.cubic_control = self.quadratic_control = None

    def _finish(self, *, closed: bool) -> None:
        if self.spans:
            self.curves.append(Curve(self.start, tuple(self.spans), closed))
        self.spans = []


def _mirrored(control: Point | None, pen: Point) -> Point:
    return pen if control is None else (2 * pen[0] - control[0], 2 * pen[1] - control[1])


def arc_between(
    start: Point, end: Point, rx: float, ry: float, turn_deg: float, large: bool, sweep: bool
) -> Span | None:
    """The elliptical arc from `start` to `end`, or None where both are the same point.

    Endpoint to centre form after the W3C SVG 1.1 implementation notes F.6.5 and F.6.6: a zero
    radius gives a straight line, radii too small are scaled up until they reach.
    """
    if start == end:
        return None
    rx, ry = abs(rx), abs(ry)
    if rx == 0.0 or ry == 0.0:
        return Straight(end)
    cos, sin = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    hx, hy = (start[0] - end[0]) / 2, (start[1] - end[1]) / 2
    # In the ellipse's own axes, as a unit circle.
    x, y = (cos * hx + sin * hy) / rx, (-sin * hx + cos * hy) / ry
    reach = math.hypot(x, y)
    if reach > 1.0:
        rx, ry, x, y = rx * reach, ry * reach, x / reach, y / reach
        reach = 1.0
    side = math.sqrt(max(1.0 - reach * reach, 0.0)) / reach if reach else 0.0
    if large == sweep:
        side = -side
    cx, cy = side * y, -side * x
    first = math.atan2(y - cy, x - cx)
    last = math.atan2(-y - cy, -x - cx)
    turned = last - first
    if sweep and turned <= 0.0:
        turned += math.tau
    elif not sweep and turned >= 0.0:
        turned -= math.tau
    u, v = (rx * cos, rx * sin), (-ry * sin, ry * cos)
    centre = (
        u[0] * cx + v[0] * cy + (start[0] + end[0]) / 2,
        u[1] * cx + v[1] * cy + (start[1] + end[1]) / 2,
    )
    return Arc(centre, u, v, first, turned, end)
