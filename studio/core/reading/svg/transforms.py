"""The `transform` attribute and CSS property, with `transform-origin`."""

from __future__ import annotations

import math

from ..curves import Matrix, shift, stretch
from .fault import Fault, quoted
from .lengths import PX_PER_UNIT, Viewport, parse_length
from .scanning import Scanner

_MOST_FUNCTIONS = 200
_RADIANS = {
    "": math.pi / 180,
    "deg": math.pi / 180,
    "rad": 1.0,
    "grad": math.pi / 200,
    "turn": math.tau,
}
_COUNTS = {
    "matrix": (6,),
    "translate": (1, 2),
    "translatex": (1,),
    "translatey": (1,),
    "scale": (1, 2),
    "scalex": (1,),
    "scaley": (1,),
    "rotate": (1, 3),
    "skew": (1, 2),
    "skewx": (1,),
    "skewy": (1,),
}


def parse_transform(text: str, what: str) -> Matrix:
    """All functions in the list, the last applied first; raises `Fault`."""
    scanner = Scanner(text, what)
    matrix = Matrix()
    scanner.skip_space()
    if scanner.text[scanner.at :].strip() == "none":
        return matrix
    for _ in range(_MOST_FUNCTIONS):
        if scanner.done:
            return matrix
        matrix = matrix @ _function(scanner)
        if scanner.skip_comma() and scanner.done:
            raise scanner.fault("a transform")
    raise Fault(
        "transform-long",
        f"{what} has more than {_MOST_FUNCTIONS} steps.",
        "Save the file as plain SVG, or flatten the transforms in your drawing program.",
    )


def _function(scanner: Scanner) -> Matrix:
    name = scanner.word()
    key = name.lower()
    if key not in _COUNTS:
        raise Fault(
            "transform-unknown",
            f"{scanner.what} uses {quoted(name)}, which cannot be read here.",
            "Use matrix, translate, scale, rotate, skewX or skewY.",
        )
    scanner.skip_space()
    scanner.expect("(")
    scanner.skip_space()
    values = [_value(scanner, key)]
    while True:
        comma = scanner.skip_comma()
        if scanner.next == ")" and not comma:
            break
        if len(values) >= 6:
            raise scanner.fault("“)”")
        values.append(_value(scanner, key))
    scanner.expect(")")
    if len(values) not in _COUNTS[key]:
        raise Fault(
            "transform-count",
            f"{scanner.what}: {name} has {len(values)} numbers.",
            "Save the file again as plain SVG.",
        )
    return _matrix(key, values)


def _value(scanner: Scanner, key: str) -> float:
    value = scanner.number()
    unit = scanner.word().lower() if scanner.next.isalpha() else ""
    if key in ("rotate", "skew", "skewx", "skewy"):
        # rotate(angle x y) takes lengths after the angle; they carry no unit in SVG
        if unit in _RADIANS:
            return value if unit == "" else math.degrees(value * _RADIANS[unit])
    elif key.startswith("translate"):
        if unit in PX_PER_UNIT:
            return value * PX_PER_UNIT[unit]
    elif unit == "":
        return value
    raise Fault(
        "unit-unknown",
        f"{scanner.what} is measured in {quoted(unit)}, which cannot be read here.",
        "Save the file again as plain SVG.",
    )


def _matrix(key: str, values: list[float]) -> Matrix:
    first = values[0]
    second = values[1] if len(values) > 1 else 0.0
    match key:
        case "matrix":
            return Matrix(*values)
        case "translate" | "translatex":
            return shift(first, second)
        case "translatey":
            return shift(0.0, first)
        case "scale":
            return stretch(first, values[1] if len(values) > 1 else first)
        case "scalex":
            return stretch(first, 1.0)
        case "scaley":
            return stretch(1.0, first)
        case "rotate":
            turn = _rotation(first)
            if len(values) == 1:
                return turn
            x, y = values[1], values[2]
            return shift(x, y) @ turn @ shift(-x, -y)
        case "skewy":
            return Matrix(b=math.tan(math.radians(first)))
        case _:  # skewX(a) and CSS skew(a, b)
            return Matrix(c=math.tan(math.radians(first)), b=math.tan(math.radians(second)))


def _rotation(degrees: float) -> Matrix:
    # Quarter turns exactly, so that a turned square stays a square to the last digit.
    quarter = degrees / 90.0
    if quarter == int(quarter):
        cos, sin = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(quarter) % 4]
    else:
        cos, sin = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return Matrix(cos, sin, -sin, cos)


def parse_origin(text: str, what: str, viewport: Viewport) -> tuple[float, float]:
    """`transform-origin`: keywords, lengths or percentages of the viewport; a z is ignored."""
    across = {"left": 0.0, "right": viewport.width}
    down = {"top": 0.0, "bottom": viewport.height}
    words = text.lower().split()[:3]
    x, y = viewport.width / 2, viewport.height / 2
    if not words:
        return x, y
    if words[0] in down or (len(words) > 1 and words[1] in across):
        words[:2] = [*words, "center"][1::-1]
    if words[0] in across:
        x = across[words[0]]
    elif words[0] != "center":
        x = parse_length(words[0], what).px(viewport.width)
    if len(words) > 1:
        if words[1] in down:
            y = down[words[1]]
        elif words[1] != "center":
            y = parse_length(words[1], what).px(viewport.height)
    return x, y
