"""Drawings and cut plans to take away, as SVG or DXF in true millimetres."""

from __future__ import annotations

from django.http import Http404, HttpResponse
from django.utils.text import slugify
from django.views.decorators.http import require_GET

from classroom.permissions import Action, Visit, requires
from studio.core.cutting.groups import group_of
from studio.core.writing import MEDIA_TYPES, WRITERS, Sheet, drawing_sheet, plan_sheet, written
from studio.queries.additions import shares_lying
from studio.queries.patterns import pattern_for, projects_for
from studio.queries.plans import plan_for
from studio.steps.plans.quote import pieces_of


@requires(Action.SEE_PROJECT)
@require_GET
def drawing_file(request: Visit, pk: int, kind: str) -> HttpResponse:
    """The pattern's drawing as it was read and named."""
    pattern = pattern_for(request.user, pk)
    drawing = pattern.drawing
    if not drawing.pieces:
        raise Http404("No piece was recognised in this pattern.")
    project = pattern.project
    stem = slugify(project.brief.title)[:60] or "pattern"
    title = f"{project.brief.title}, pattern {pattern.number}"
    return _attached(drawing_sheet(drawing, title), kind, f"{stem}-pattern-{pattern.number}")


@requires(Action.SEE_PLAN)
@require_GET
def plan_file(request: Visit, pk: int, kind: str) -> HttpResponse:
    """The whole plan for its teacher; for a student the own pieces on their metal."""
    plan = plan_for(request.user, pk)
    if plan.laid is None:
        raise Http404("This plan has no placement yet.")
    shares = list(shares_lying(plan).select_related("pattern"))
    groups = None
    if not request.user.is_teacher:
        own = projects_for(request.user).filter(pk__in=[share.project_id for share in shares])
        groups = {group_of(pk) for pk in own.values_list("pk", flat=True)}
    sheet = plan_sheet(
        plan.asked,
        plan.laid,
        pieces_of(shares),
        f"Cut plan {plan.pk}, {plan.metal}",
        groups=groups,
    )
    return _attached(sheet, kind, f"cut-plan-{plan.pk}")


def _attached(sheet: Sheet, kind: str, stem: str) -> HttpResponse:
    """A file to keep, never to be shown by a browser in the site's name."""
    if kind not in WRITERS:
        raise Http404("Drawings are written as SVG and DXF.")
    response = HttpResponse(written(sheet, kind), content_type=MEDIA_TYPES[kind])
    response["Content-Disposition"] = f'attachment; filename="{stem}.{kind}"'
    response["X-Content-Type-Options"] = "nosniff"
    response["Content-Security-Policy"] = "default-src 'none'; sandbox"
    response["Cache-Control"] = "private, no-store"
    return response
