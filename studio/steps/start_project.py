"""A student begins work on a brief."""

from __future__ import annotations

from django.db import transaction

from classroom.models import Course, Seat, User, record
from classroom.refusals import Refused
from studio.models import Brief, Project


def require_open(brief: Brief) -> None:
    """Refuse new patterns for a brief, or a whole course, that is closed."""
    if brief.closed_at is not None:
        raise Refused("This brief is closed. Ask your teacher to open it again.")
    course: Course = brief.course
    if course.closed_at is not None:
        raise Refused("This course is closed, so its briefs take no more patterns.")


def require_at_work(project: Project) -> None:
    """Refuse work on a pattern whose brief or course is closed, or whose student has left."""
    require_open(project.brief)
    if project.seat.left_at is not None:
        raise Refused("You have left this course. Ask its teacher to take you back.")


@transaction.atomic
def start_project(brief: Brief, seat: Seat, *, acting: User) -> Project:
    """The seat's project on the brief; a second start finds the first one's project.

    Raises Refused when the brief or course is closed, or the student has left the course.
    """
    if seat.course_id != brief.course_id or seat.left_at is not None:
        raise Refused("Only a student who has a seat in this course can start.")
    found = Project.objects.filter(brief=brief, seat=seat).first()
    if found is not None:
        return found
    require_open(brief)
    metals = list(brief.metals.all()[:2])
    project, made = Project.objects.get_or_create(
        brief=brief, seat=seat, defaults={"metal": metals[0] if len(metals) == 1 else None}
    )
    if made:
        record(acting, "project-started", project, "started the project")
    return project
