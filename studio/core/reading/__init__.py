"""Reading a pattern: bytes to a tracing, and a tracing with re-labels to a drawing.

    outcome = read_upload(Upload(data, Asked("fish.svg")))    # `outcomes`: read, asks, refused
    tracing = read_pattern(data, filename="fish.svg")     # in the caller's own process; raises
    assembly = assemble(tracing, {"3": "surface"})        # again after each re-label
    assembly.drawing, assembly.labels, assembly.findings

How a file becomes a drawing:

1. `door` hands the file (`uploads`) to a process of its own (`child`) and says what came of it
   (`outcomes`); `read_pattern` is the same without that process. The kind of a file shows in
   its first bytes; its reader (`sources`) is one function from bytes to rough lines in
   millimetres, y upwards: `svg` and `dxf` for drawings, `scan` for pictures of paper.
2. Readers that know true curves keep them exact (`curves`) through all transforms; only then
   `flattening` makes short straight lines of them, within 0.02 mm.
3. In `joining`, `tidying` drops stray dots, reads a line drawn twice once, and lets `chaining`
   join loose lines end to end and close gaps up to 0.1 mm. `meetings` refuses scribbles before
   any polygon is tried. The lines get their ids: this is the tracing that is stored.
4. There too `assembling` labels the closed lines from the outside inwards by `enclosing`, hears
   what the student says about each, puts the pieces together (`piecing`) and gives open lines
   their place (`loose_lines`). It never raises: what cannot be is a finding with a point.

Every count that a file can drive up is spent from a budget (`bounds`).
"""

from .door import read_upload
from .errors import PatternError
from .joining.assembling import Assembly, assemble
from .labels import GIVEN_LABELS, LABEL_WORDS, Label
from .outcomes import AsksSize, AsksUnit, Read, TurnedDown, Unread
from .rough import ASK, Asked, Reference
from .sources import read_pattern
from .tracing import Line, Source, Tracing
from .uploads import Upload

__all__ = [
    "ASK",
    "GIVEN_LABELS",
    "LABEL_WORDS",
    "Asked",
    "AsksSize",
    "AsksUnit",
    "Assembly",
    "Label",
    "Line",
    "PatternError",
    "Read",
    "Reference",
    "Source",
    "Tracing",
    "TurnedDown",
    "Unread",
    "Upload",
    "assemble",
    "read_pattern",
    "read_upload",
]
