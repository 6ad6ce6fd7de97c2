"""The student's first question: what do I do next, of everything that is going on?

Reads only. What is next on each project says `standings`; here stands only the order.
"""

from __future__ import annotations

from dataclasses import dataclass

from django.urls import reverse

from classroom.languages import SAY
from classroom.models import User
from studio.core.standing import Next, Turn, not_begun
from studio.models import Brief, Project
from studio.queries.briefs import briefs_for
from studio.queries.patterns import projects_for

from .standings import whats_next, with_what_counts


@dataclass(frozen=True)
class NextThing:
    """What a student does next on one project, or one brief not begun."""

    title: str
    brief: Brief
    next: Next
    url: str
    project: Project | None = None

    @property
    def waiting(self) -> bool:
        return self.next.turn is not Turn.YOURS


def students_day(user: User) -> list[NextThing]:
    """One entry for each running brief: things to do first, then waiting, then finished."""
    projects = list(with_what_counts(projects_for(user)))
    found = whats_next(projects, user)
    entries = [
        NextThing(
            title=project.title or project.brief.title,
            brief=project.brief,
            next=found[project.pk].next,
            url=found[project.pk].url,
            project=project,
        )
        for project in projects
    ]
    begun = {project.brief_id for project in projects}
    entries += [
        NextThing(brief.title, brief, not_begun(SAY), reverse("brief", args=[brief.pk]))
        for brief in briefs_for(user).filter(closed_at=None, course__closed_at=None)
        if brief.pk not in begun
    ]
    return sorted(entries, key=lambda e: (e.next.turn is Turn.DONE, e.waiting, e.title))
