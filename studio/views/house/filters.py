"""A list that holds several courses' rows can be narrowed to one: `?course=3`."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from classroom.models import Course
from classroom.permissions import Visit
from classroom.queries import courses_for


def chosen_course(request: Visit) -> Course | None:
    """The person's course that the address names; None for all of them, or for nonsense."""
    text = request.GET.get("course", "")
    if not (text.isascii() and text.isdigit() and len(text) < 12):
        return None
    return courses_for(request.user).filter(pk=int(text)).first()


def query(course: Course | None, **more: str) -> str:
    """The address's query that keeps the course, such as "course=3&show=closed"."""
    kept: dict[str, Any] = {"course": course.pk} if course is not None else {}
    return urlencode(kept | more)
