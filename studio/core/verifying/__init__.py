"""The judge: is a plan valid, and what does it come to? It shares no code with the search.

`faults` says what is wrong with placements, `measure` what they consume, keep and cost. Both
look at the job's exact outlines only, never at anything that the engine prepared.
"""

from studio.core.verifying.cuts import Cuts, MiddleCut, cuts
from studio.core.verifying.faults import Fault, faults, missing
from studio.core.verifying.measures import measure
from studio.core.verifying.rectangles import Rectangle, largest_rectangle
from studio.core.verifying.saw_lines import Stretch, free_stretches, shared_stretches

__all__ = [
    "Cuts",
    "Fault",
    "MiddleCut",
    "Rectangle",
    "Stretch",
    "cuts",
    "faults",
    "free_stretches",
    "largest_rectangle",
    "measure",
    "missing",
    "shared_stretches",
]
