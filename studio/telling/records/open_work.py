"""What keeps a course from being closed: metal and money that are still out."""

from __future__ import annotations

from collections.abc import Iterator

from classroom.models import Course
from studio.models import CutPlan


def metal_that_is_out(course: Course) -> Iterator[str]:
    """A sentence for each reason why this course cannot be closed yet."""
    plans = CutPlan.objects.filter(course=course)
    issued = plans.filter(state=CutPlan.State.ISSUED).count()
    if issued:
        yield f"Take back the metal of {_plans(issued)} first."
    held = plans.filter(state=CutPlan.State.APPROVED).count()
    if held:
        yield f"Hand out or drop {_plans(held)} that reserves metal and money."


def _plans(count: int) -> str:
    return "1 cut plan" if count == 1 else f"{count} cut plans"
