"""The printed capture frame: where its markers lie around the drawing area.

A photo of a drawing in the frame tells its own scale and perspective, because every marker
corner's place on the paper is known. Millimetres, y upwards, (0, 0) is the lower left corner of
the drawing area. Markers are those of the 4 x 4 ArUco dictionary with 50 markers (Garrido-Jurado
et al., 2014), six modules across with their black border; each paper has its own numbers, so
that a photo shows by itself which frame it is.
"""

from __future__ import annotations

from dataclasses import dataclass

MARKER_MM = 12.0
CLEAR_MM = 3.0
"""White between a marker and anything else; a marker needs one module (2 mm) of it."""

# Four rows of four modules, most significant first, 1 is white: markers 0 to 31.
_MODULES: tuple[int, ...] = (
    0xB532,
    0x0F9A,
    0x332D,
    0x9946,
    0x549E,
    0x79CD,
    0x9E2E,
    0xC4F2,
    0xFEDA,
    0xCF56,
    0xF991,
    0x11A7,
    0x0EB7,
    0x2A0F,
    0x24B1,
    0x263E,
    0x4665,
    0x6600,
    0x6C5E,
    0x76AF,
    0x868B,
    0xB02B,
    0xCCD5,
    0xDD82,
    0xFE47,
    0x9471,
    0xACE4,
    0xA554,
    0x2123,
    0x346F,
    0x4415,
    0x57B2,
)


@dataclass(frozen=True, slots=True)
class Marker:
    """`x_mm`, `y_mm` is the lower left corner of the black square."""

    number: int
    x_mm: float
    y_mm: float

    @property
    def corners(self) -> tuple[tuple[float, float], ...]:
        """From the upper left one clockwise, as seen on the paper."""
        x, y, side = self.x_mm, self.y_mm, MARKER_MM
        return (x, y + side), (x + side, y + side), (x + side, y), (x, y)

    @property
    def white_modules(self) -> tuple[tuple[float, float, float], ...]:
        """Lower left corner and side of every white module."""
        side = MARKER_MM / 6
        code = _MODULES[self.number]
        return tuple(
            (
                self.x_mm + (column + 1) * side,
                self.y_mm + MARKER_MM - (row + 2) * side,
                side,
            )
            for row in range(4)
            for column in range(4)
            if code >> (15 - 4 * row - column) & 1
        )


@dataclass(frozen=True, slots=True)
class Frame:
    """A frame for one paper; `width_mm` and `height_mm` are those of the drawing area."""

    name: str
    paper: str
    width_mm: float
    height_mm: float
    markers: tuple[Marker, ...]

    @property
    def border_mm(self) -> float:
        """From the drawing area to the outer side of the markers."""
        return MARKER_MM + CLEAR_MM


def _frame(name: str, paper: str, width: float, height: float, first: int, up: int) -> Frame:
    """Four markers along the top and the bottom and `up` along each side, corners included."""
    edge = CLEAR_MM + MARKER_MM
    across = [-edge + k * (width + 2 * edge - MARKER_MM) / 3 for k in range(4)]
    upward = [-edge + k * (height + 2 * edge - MARKER_MM) / (up - 1) for k in range(up)]
    places = [(x, upward[-1]) for x in across]
    places += [(x, y) for y in reversed(upward[1:-1]) for x in (across[0], across[-1])]
    places += [(x, upward[0]) for x in across]
    return Frame(
        name,
        paper,
        width,
        height,
        tuple(Marker(first + number, x, y) for number, (x, y) in enumerate(places)),
    )


FRAMES: dict[str, Frame] = {
    "a4": _frame("a4", "A4", 144.0, 200.0, 0, 5),
    "letter": _frame("letter", "Letter", 148.0, 182.0, 16, 5),
}
