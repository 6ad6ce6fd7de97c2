"""May work on a brief go on? Asked by all steps that a student or the bench takes."""

from __future__ import annotations

from django.utils.translation import gettext_noop

from classroom.models import Course
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
