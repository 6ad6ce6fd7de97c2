"""The way from the briefs to a page about a project's pattern."""

from __future__ import annotations

from django.urls import reverse

from classroom.permissions import Visit
from studio.models import Project


def pattern_crumbs(request: Visit, project: Project, here: str) -> list[dict[str, str]]:
    student = project.student.display_name if request.user.is_teacher else "My project"
    return [
        {"label": "Briefs", "url": reverse("briefs")},
        {"label": project.brief.title, "url": reverse("brief", args=[project.brief_id])},
        {"label": student, "url": reverse("project", args=[project.pk])},
        {"label": here},
    ]
