"""The judge: is a plan valid, and what does it come to? It shares no code with the search.

`faults` says what is wrong with placements, `missing` what they leave out, `measure` what they
consume, keep and cost; `Watch` says all three, again and again while pieces are moved. `cuts` are
the free edges, shared lines and cuts down the middle on one stock piece. `parts_of`, `blanks_of`
and `grounds` tell what parting cuts make of metal. All
look at the job's exact outlines only, never at anything that the engine prepared.
"""

from studio.core.verifying.cuts import Cuts, MiddleCut, cuts
from studio.core.verifying.fault import Fault, fault_to_json
from studio.core.verifying.faults import faults, missing
from studio.core.verifying.measures import measure
from studio.core.verifying.parted.grounds import Ground, blanks_of, grounds, parts_of
from studio.core.verifying.rectangles import Rectangle, largest_rectangle
from studio.core.verifying.saw_lines import Stretch, free_stretches, shared_stretches
from studio.core.verifying.warming import warm_up, warm_up_aside
from studio.core.verifying.watch import Judgement, Shown, Watch, measurable

__all__ = [
    "Cuts",
    "Fault",
    "Ground",
    "Judgement",
    "MiddleCut",
    "Rectangle",
    "Shown",
    "Stretch",
    "Watch",
    "blanks_of",
    "cuts",
    "fault_to_json",
    "faults",
    "free_stretches",
    "grounds",
    "largest_rectangle",
    "measurable",
    "measure",
    "missing",
    "parts_of",
    "shared_stretches",
    "warm_up",
    "warm_up_aside",
]
