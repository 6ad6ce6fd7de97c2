"""What every page shows around its content: the way round the house for this person."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest
from django.urls import reverse
from django.utils.translation import gettext, gettext_noop

from classroom.models import User

TEACHER_WAYS = (
    (gettext_noop("Today"), "first_page"),
    (gettext_noop("Courses"), "course_list"),
    (gettext_noop("Briefs"), "briefs"),
    (gettext_noop("Cut plans"), "plans"),
    (gettext_noop("Rack"), "rack"),
    (gettext_noop("Waste and cost"), "review"),
    (gettext_noop("Safety"), "topics"),
    (gettext_noop("Practise"), "practice"),
)
# Pages that lie elsewhere but belong to a way.
ALSO = {
    "course_list": ("/seats/",),
    "briefs": ("/patterns/", "/projects/"),
    "rack": ("/metals/", "/supplies/", "/scrap/"),
}
STUDENT_WAYS = (
    (gettext_noop("Today"), "first_page"),
    (gettext_noop("Briefs"), "briefs"),
    (gettext_noop("Practise"), "practice"),
    (gettext_noop("My costs"), "statement"),
    (gettext_noop("Safety"), "topics"),
)


def page(request: HttpRequest) -> dict[str, Any]:
    """Context processor: `nav`, and the `school` whose units and currency the page uses."""
    user = getattr(request, "user", None)
    if not isinstance(user, User):
        return {"nav": [], "school": None}
    ways = TEACHER_WAYS if user.is_teacher else STUDENT_WAYS
    return {
        "nav": [_way(request, *way) for way in ways],
        "school": user.school,
    }


def _way(request: HttpRequest, label: str, name: str) -> dict[str, Any]:
    url = reverse(name)
    under = (url, *ALSO.get(name, ()))
    here = request.path == url or (url != "/" and request.path.startswith(under))
    return {"label": gettext(label), "url": url, "current": here}
