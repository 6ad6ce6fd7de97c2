"""A student begins work on a brief."""

from __future__ import annotations

from django.db import transaction
from django.utils.translation import gettext_noop

from classroom.models import Course, Seat, User, record
from classroom.refusals import Refused
from studio.models import Brief, Project

BRIEF_CLOSED = gettext_noop(
    "This brief is closed and takes no more patterns. Its teacher can open it again."
)
COURSE_CLOSED = gettext_noop("This course is closed, so its briefs take no more patterns.")
HAS_LEFT = gettext_noop("The student has left this course. Its teacher can take the student back.")


def why_closed(brief: Brief) -> str:
    """Why the brief takes no patterns, in a sentence; "" while it does."""
    course: Course = brief.course
    if course.closed_at is not None:
        return COURSE_CLOSED
    return BRIEF_CLOSED if brief.closed_at is not None else ""


def why_shut(project: Project) -> str:
    """Why nothing can be done about the project's pattern any more; "" while something can.

    The one answer for the pages, which offer nothing then, and for the steps, which refuse.
    """
    return HAS_LEFT if project.seat.left_at is not None else why_closed(project.brief)


def require_at_work(project: Project) -> None:
    """Refuse work on a pattern whose brief or course is closed, or whose student has left."""
    if why := why_shut(project):
        raise Refused(why)


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
