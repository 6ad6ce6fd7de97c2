"""Labels for the bags in which projects wait between lessons, each with its bench page's QR."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from django.urls import reverse
from django.utils.safestring import SafeString
from django.utils.translation import gettext

from classroom.models import Course
from inventory.rack.codes import qr_svg
from studio.models import PlanProject, Project

TEMPLATE = "studio/prints/bench/bag_labels.html"
IN_A_BAG = (
    Project.Stage.PATTERN_APPROVED,
    Project.Stage.PLANNED,
    Project.Stage.AT_BENCH,
    Project.Stage.MADE,
)
"""From the approved pattern, when there is paper to put in, until the metal has come back."""
MOST_LABELS = 200


@dataclass(frozen=True, slots=True)
class BagLabel:
    project: Project
    qr: SafeString
    plan_pk: int | None  # of the cut plan that holds it


def bag_label(project: Project, address: Callable[[str], str]) -> BagLabel:
    return _labels([project], address)[0]


def bag_labels(course: Course, address: Callable[[str], str]) -> list[BagLabel]:
    """One label for each project of the course that needs a bag, by student.

    `address` makes a full address of a path; the number of queries does not grow with the class.
    """
    projects = (
        Project.objects.filter(brief__course=course, stage__in=IN_A_BAG, seat__left_at=None)
        .select_related("brief__course", "seat__student", "metal")
        .order_by("seat__student__display_name", "brief_id", "pk")
    )
    return _labels(projects[:MOST_LABELS], address)


def _labels(projects: Iterable[Project], address: Callable[[str], str]) -> list[BagLabel]:
    chosen = list(projects)
    plans = dict(
        PlanProject.objects.filter(project__in=chosen, live=True).values_list(
            "project_id", "plan_id"
        )
    )
    return [
        BagLabel(
            project,
            qr_svg(
                address(reverse("bench", args=[project.pk])),
                gettext("Address of the bench page of %(student)s") % {"student": project.student},
                fills=True,
            ),
            plans.get(project.pk),
        )
        for project in chosen
    ]
