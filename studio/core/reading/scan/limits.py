"""Bounds and measures of reading pictures; lengths in millimetres."""

from __future__ import annotations

MAX_PICTURE_BYTES = 15_000_000
MAX_PIXELS = 40_000_000  # A4 at 600 dpi has 35 million
MAX_SIDE_PX = 20_000
LEAST_SIDE_PX = 64
WORK_PIXELS = 9_000_000  # A4 at 300 dpi; larger pictures are made smaller before reading
WORK_PX_PER_MM = 300 / 25.4
LEAST_PX_PER_MM = 100 / 25.4  # coarser, and a pen line is no more than one dot
MAX_MIDDLE_PX = 250_000  # dots of middle lines: more is a printed page, not a drawing
MAX_PARTS = 6_000  # ink spots and lines; more is a photo of something else

SECONDS = 25  # processor time for one picture
MEMORY_BYTES = 2_500_000_000  # address space, of which far less is ever used

PEN_LEAST_MM, PEN_MOST_MM = 0.12, 1.6
DRILL_DRAWN_MAX_MM = 3.5  # a circle no larger than this is a drill mark
CROSS_MAX_MM = 5.0
CROSS_DIAMETER_MM = 1.0  # a cross states no diameter: the usual classroom pilot
SHADED_FROM = 0.13  # an area this much darker than the paper is shaded
HATCH_GAP_MM = 2.2  # hatching lines lie no further apart than this
SPECK_AREA = 3.0  # in squares of the pen's width: less ink is a speck
SIMPLE_MM = 0.02  # how far a read line may leave the measured one for fewer corners
LEAST_PIECE_MM = 3.0  # smaller rounds and scraps outside every piece are writing or specks
RESIDUAL_MAX_MM = 0.08
