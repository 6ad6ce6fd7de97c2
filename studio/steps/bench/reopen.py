"""New papers come onto metal that is at the bench: sticking and drying begin anew for all of it."""

from __future__ import annotations

from collections.abc import Iterable

from django.utils import timezone

from classroom.models import User, record
from studio.core.bench.texts import BenchStepKind
from studio.models import BenchStep, Project, SignOff

from .moves import sign_off, swap

PAPERS = (BenchStepKind.ADHERE, BenchStepKind.DRY)


def reopen_papers(projects: Iterable[Project], *, acting: User, why: str) -> list[BenchStep]:
    """Open the begun steps of sticking and drying of these projects again, with an entry each.

    What was not begun stays as it is. Called in the transaction that brings the papers, by which
    the projects are held.
    """
    now = timezone.now()
    steps = BenchStep.objects.filter(
        project__in=list(projects), kind__in=PAPERS, started_at__isnull=False
    )
    opened = []
    for step in steps.select_related("project").order_by("project_id", "number"):
        swap(
            step,
            {"started_at": step.started_at, "done_at": step.done_at},
            started_at=None,
            wait_until=None,
            student_signed_at=None,
            done_at=None,
        )
        sign_off(step, SignOff.Kind.SENT_BACK, acting, now, reason=why)
        record(acting, "step-reopened", step.project, f"opened “{step.title}” again", step=step.pk)
        opened.append(step)
    return opened
