"""Where does a project stand, and what is done next by whom? Pure: facts in, one answer out.

The first page, the project's page, the trail of its stages and the refusals all ask here, so
that none of them sends a person elsewhere than the others.

facts        what the answer rests on
for_student  what the project's own student does next
for_teacher  what a teacher of the course does
for_both     what both are told alike
refusals     why a pattern cannot be changed now, and how one is mended
"""

from .facts import BenchNow, Next, PatternNow, Place, PlanNow, Stage, Standing, Turn
from .for_student import next_for_student, not_begun
from .for_teacher import next_for_teacher
from .refusals import how_to_mend, why_pattern_is_fixed

__all__ = [
    "BenchNow",
    "Next",
    "PatternNow",
    "Place",
    "PlanNow",
    "Stage",
    "Standing",
    "Turn",
    "how_to_mend",
    "next_for_student",
    "next_for_teacher",
    "not_begun",
    "why_pattern_is_fixed",
]
