"""Practice sheets: small laying-out puzzles of our own shapes, each with a known good answer.

`sheets` has them, `standing` says how near somebody has come to the known answer, `spread` sets
pieces out. README.md tells where the answers are from.
"""

from .sheets import BY_CODE, SHEETS, Sheet, name_of
from .spread import SetOut, spread
from .standing import Standing, is_whole, known, metal_mm2, standing_of

__all__ = [
    "BY_CODE",
    "SHEETS",
    "SetOut",
    "Sheet",
    "Standing",
    "is_whole",
    "known",
    "metal_mm2",
    "name_of",
    "spread",
    "standing_of",
]
