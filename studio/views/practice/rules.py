"""The three rules of laying out beside somebody's work, with the figures that hold for it."""

from __future__ import annotations

from dataclasses import dataclass

from classroom.permissions import Visit
from classroom.wording.chosen_language import usual_language
from studio.models import Brief
from studio.steps.plans.placing_settings import rules_for


@dataclass(frozen=True, slots=True)
class Taught:
    """What `studio/layouts/rules` is shown with: lengths in mm, and the reader's language."""

    gap_mm: float
    shared_mm: float
    language: str


def rules_to_teach(request: Visit, brief: Brief | None = None) -> Taught:
    """The brief's gap and width of a shared line, or without one the school's."""
    school = request.user.school
    language = usual_language(request, school)
    if brief is not None:
        apart = rules_for(school, brief.course).apart([brief])
        return Taught(apart.gap_mm, apart.shared_mm, language)
    rules = rules_for(school)
    kerf, room = rules.kerf_mm(rules.blade), rules.room()
    return Taught(float(room.gap_for(kerf)), float(room.shared_for(kerf)), language)
