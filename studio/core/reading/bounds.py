"""How much of a file we are willing to read, and how near counts as touching.

A file comes from anywhere, so each count below is spent from a budget while reading; running
out of it is an answer in words, never a crash or a stalled server.
"""

from __future__ import annotations

from dataclasses import dataclass

from .errors import PatternError

MAX_BYTES = 5_000_000  # also after unpacking a compressed file
MAX_ELEMENTS = 20_000  # elements in the file, and again elements drawn with all re-uses
MAX_DEPTH = 100  # elements inside elements
MAX_REUSES = 2_000  # copies made by <use>
MAX_PATH_POINTS = 200_000  # numbers pairs in all paths together
MAX_VERTICES = 40_000  # corners after curves have become short straight lines
MAX_LINES = 2_000
MAX_LOOSE_LINES = 1_000  # open lines left after those that meet exactly have been joined
MAX_CROSSINGS = 20_000  # a cross-hatched surface has some thousand
MAX_STYLE_BYTES = 200_000  # style sheets, and again all different style attributes
MAX_NUMBER = 1e9  # larger than any drawing in any unit

MAX_SIZE_MM = 2_000.0  # no school's sheet is longer
MIN_SIZE_MM = 0.1

HEAL_GAP_MM = 0.1  # ends nearer than this were meant to meet
SAME_POINT_MM = 0.001
SAME_LINE_MM = 0.05  # two lines nowhere further apart than this are one line drawn twice
SPECK_MM = 0.1  # anything smaller across is a stray dot

DRILL_MAX_MM = 3.5  # 1/8 in (3.175 mm) is the largest usual drill; the rest is slack
DRILL_MAX_ASKED_MM = 6.5  # 1/4 in (6.35 mm) when a person says that it is drilled
RING_WEB_MM = 2.0  # a hole this near the outside (plus its diameter) is meant for a ring


@dataclass(slots=True)
class Budget:
    """Counts down while one file is read."""

    elements: int = MAX_ELEMENTS
    reuses: int = MAX_REUSES
    path_points: int = MAX_PATH_POINTS
    vertices: int = MAX_VERTICES

    def spend_element(self) -> None:
        self.elements -= 1
        if self.elements < 0:
            raise PatternError(
                "too-many-elements",
                f"This drawing has more than {MAX_ELEMENTS:,} elements.",
                "Save only the lines to be sawn, without backgrounds, hatching and hidden layers.",
            )

    def spend_reuse(self) -> None:
        self.reuses -= 1
        if self.reuses < 0:
            raise PatternError(
                "too-many-copies",
                f"This drawing repeats its shapes more than {MAX_REUSES:,} times.",
                "Keep one copy of each shape; copies are made when the metal is planned.",
            )

    def spend_path_points(self, count: int) -> None:
        self.path_points -= count
        if self.path_points < 0:
            raise PatternError(
                "too-many-points",
                f"The paths of this drawing have more than {MAX_PATH_POINTS:,} points.",
                "Simplify the paths in your drawing program, then save again.",
            )

    def spend_vertices(self, count: int) -> None:
        self.vertices -= count
        if self.vertices < 0:
            raise PatternError(
                "too-detailed",
                f"The lines of this drawing need more than {MAX_VERTICES:,} points.",
                "Check that the size is right, then simplify the paths and save again.",
            )
