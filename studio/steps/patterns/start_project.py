"""A student begins work on a brief."""

from __future__ import annotations

from django.db import transaction

from classroom.models import Seat, User, record
from classroom.refusals import Refused
from studio.models import Brief, Project
from studio.steps.at_work import why_closed


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
    if why := why_closed(brief):
        raise Refused(why)
    metals = list(brief.metals.all()[:2])
    project, made = Project.objects.get_or_create(
        brief=brief, seat=seat, defaults={"metal": metals[0] if len(metals) == 1 else None}
    )
    if made:
        record(acting, "project-started", project, "started the project")
    return project
