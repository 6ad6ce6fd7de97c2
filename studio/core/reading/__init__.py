"""Reading a pattern: bytes to a tracing, and a tracing with re-labels to a drawing.

tracing = read_pattern(data, filename="fish.svg")     # PatternError when hopeless
assembly = assemble(tracing, {"3": "surface"})        # again after each re-label
assembly.drawing, assembly.labels, assembly.findings
"""

from .assembling import Assembly, assemble
from .errors import PatternError
from .labels import GIVEN_LABELS, LABEL_WORDS, Label
from .sources import kind_of, read_pattern
from .tracing import Line, Round, Source, Tracing

__all__ = [
    "GIVEN_LABELS",
    "LABEL_WORDS",
    "Assembly",
    "Label",
    "Line",
    "PatternError",
    "Round",
    "Source",
    "Tracing",
    "assemble",
    "kind_of",
    "read_pattern",
]
