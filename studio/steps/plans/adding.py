"""Pieces are added to metal that is at the bench already.

One live plan and its additions, whose pieces never overlap, in one student's hands: until the
first outline is sawn. From then on what is left of the metal is brought back first; on the rack it
is stock as any other. An addition is placed, priced and approved as any plan, but it reserves
nothing: its metal is out. It costs what is used up beyond what the metal's plan uses up.
"""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.db import IntegrityError, transaction
from django.db.models import F
from django.utils.translation import gettext as _

from classroom.models import User, record
from classroom.refusals import Refused
from studio.core.bench.texts import BenchStepKind
from studio.models import BenchStep, CutPlan, Pattern, PlacingJob, PlanProject, PlanStock, Project
from studio.queries.additions import all_together, open_addition, projects_on, whole_layout
from studio.steps.bench.reopen import reopen_papers
from studio.tasks import place_plan

from .asking import JOB_VERSION, make_job, usable

State = CutPlan.State
WIDEST = ("gap_mm", "shared_mm", "edge_margin_mm")
"""Of two that lie side by side the wider distance holds."""


def why_not_add(plan: CutPlan) -> str:
    """Why nothing can be added to this plan's metal now; empty where something can."""
    if plan.adds_to_id is not None or plan.way != CutPlan.Way.ALONE:
        return _("This metal is not one student's alone.")
    if plan.state != State.ISSUED:
        return _("This metal is not at the bench.")
    if plan.job["version"] < JOB_VERSION:
        return _("What lies on this metal was laid by earlier rules.")
    if plan.to_lay_anew:
        return _("The layout has to fit the metal as it came out first.")
    if plan.course.closed_at is not None:
        return _("This course is closed.")
    owners = {project.seat_id for project in projects_on(plan)}
    if len(owners) != 1:
        return _("This metal is not one student's alone.")
    if _is_sawn(plan):
        return _(
            "Sawing has begun. Bring back what is left first; then it is on the rack, and new "
            "pieces can be placed on it."
        )
    if open_addition(plan) is not None:
        return _("Other pieces are being added to this metal. Hand them out or drop them first.")
    return ""


def add_to(plan: CutPlan, project: Project, *, acting: User, seed: int = 1) -> CutPlan:
    """Start placing the project's pieces on what is free of this plan's metal; a worker does it.

    A student asks for the own project, a teacher for any of the course's students; a teacher
    approves it in either case. Raises Refused, in words, where the metal is not to be added to
    (`why_not_add`), is not this student's, or the project is not ready to be placed.
    """
    try:
        with transaction.atomic():
            return _ask(_held(plan), project, acting, seed)
    except IntegrityError:
        raise Refused(
            _("This project has been put on another cut plan at this moment. Load the page again.")
        ) from None


def hold_metal(addition: CutPlan) -> list[PlanStock]:
    """The addition is approved: it lies on its plan's metal, of which nothing is reserved anew.

    Raises Refused where that metal has moved on since the pieces were placed.
    """
    assert addition.adds_to is not None
    base = _held(addition.adds_to)
    _still_as_laid(addition, base)
    touched = base.reserved.filter(live=True, stock_piece__code__in=_own_codes(addition))
    return PlanStock.objects.bulk_create(
        PlanStock(plan=addition, stock_piece_id=row.stock_piece_id, addition=True)
        for row in touched.order_by("stock_piece_id")
    )


def bring_to_the_bench(addition: CutPlan, *, acting: User) -> None:
    """The addition is handed out: papers that lie on its metal are stuck and dried anew.

    Raises Refused where that metal has moved on since the pieces were placed.
    """
    assert addition.adds_to is not None
    base = _held(addition.adds_to)
    _still_as_laid(addition, base)
    # The addition itself is handed out already, in this transaction.
    lying = [
        project
        for project in projects_on(base)
        if not addition.shares.filter(project=project).exists()
    ]
    why = _("New papers come onto this metal: stick and dry all of them together.")
    reopen_papers(lying, acting=acting, why=why)


def _held(plan: CutPlan) -> CutPlan:
    """The plan as it is now, held until the transaction ends, with the steps of its projects."""
    held = (
        CutPlan.objects.select_for_update(of=("self",), no_key=True)
        .select_related("course__school", "metal")
        .get(pk=plan.pk)
    )
    shares = PlanProject.objects.filter(plan__in=[one.pk for one in all_together(held)], live=True)
    list(
        Project.objects.select_for_update()
        .filter(pk__in=shares.values("project"))
        .order_by("pk")
        .values_list("pk")
    )
    return held


def _ask(base: CutPlan, project: Project, acting: User, seed: int) -> CutPlan:
    if why := why_not_add(base):
        raise Refused(why)
    _may_ask(base, project, acting)
    pattern = project.patterns.filter(state=Pattern.State.APPROVED).defer("tracing").first()
    ready = Project.objects.filter(pk=project.pk, stage=Project.Stage.PATTERN_APPROVED)
    if pattern is None or not ready.update(stage_since=F("stage_since")):
        raise Refused(_("This project has no approved pattern that waits for its metal."))
    if PlanProject.objects.filter(project=project, live=True).exists():
        raise Refused(_("This project has a cut plan already. Drop that one first."))
    pattern.project = project
    added = CutPlan.objects.create(
        course=base.course,
        metal=base.metal,
        way=CutPlan.Way.ALONE,
        adds_to=base,
        job=_job(base, pattern),
        seed=max(1, seed),
        seconds=settings.PLACING_SECONDS,
        created_by=acting,
    )
    PlanProject.objects.create(plan=added, project=project, pattern=pattern)
    placing = PlacingJob.objects.create(plan=added)
    record(acting, "plan-asked", added, f"asked to add {project} to the metal of {base}")
    transaction.on_commit(lambda: place_plan.enqueue(placing.pk))
    return added


def _may_ask(base: CutPlan, project: Project, acting: User) -> None:
    if acting.is_student and project.seat.student_id != acting.pk:
        raise Refused(_("You can add pieces of your own projects only."))
    if project.brief.course_id != base.course_id:
        raise Refused(_("Pieces on one metal must be of one course."))
    if project.metal_id != base.metal_id:
        raise Refused(_("This project is of another metal."))
    if {one.seat_id for one in projects_on(base)} != {project.seat_id}:
        raise Refused(_("This metal is in another student's hands."))
    if project.seat.left_at is not None:
        raise Refused(_("This student has left the course."))


def _job(base: CutPlan, pattern: Pattern) -> dict[str, Any]:
    """What the engine is asked: the new pieces, round all that lies on the metal."""
    lies = whole_layout(base)
    assert lies.answer is not None
    there = lies.job
    rows = base.reserved.filter(live=True).select_related("stock_piece__metal")
    stock = [row.stock_piece for row in rows]
    held = {piece.code for piece in stock}
    placed = lies.answer["placements"]
    standing = {one["piece"] for one in placed}
    new = make_job([pattern], stock, base.course.school)
    job = {name: value for name, value in there.items() if name not in ("start", "fixed")}
    job |= {name: max(there.get(name) or 0.0, new.get(name) or 0.0) for name in WIDEST}
    job["metal"] = [metal for metal in there["metal"] if metal["id"] in held]
    job["pieces"] = [one for one in there["pieces"] if one["id"] in standing] + new["pieces"]
    job["fixed"] = placed
    usable(job)
    return job


def _still_as_laid(addition: CutPlan, base: CutPlan) -> None:
    if base.state != State.ISSUED or _is_sawn(base):
        raise Refused(
            _(
                "The metal that these pieces were to be added to is sawn or brought back already. "
                "Drop this plan and place them on the rack's metal."
            )
        )
    lies = next(one for one in reversed(all_together(base)) if one.pk != addition.pk)
    assert lies.answer is not None
    if lies.answer["placements"] != addition.job["fixed"]:
        raise Refused(
            _("What lies on this metal is laid otherwise now. Drop this plan and add them again.")
        )


def _is_sawn(plan: CutPlan) -> bool:
    """Whether sawing has begun on any piece that lies on the plan's metal."""
    shares = PlanProject.objects.filter(plan__in=[one.pk for one in all_together(plan)], live=True)
    sawn = BenchStep.objects.filter(
        project__in=shares.values("project"), kind=BenchStepKind.SAW, started_at__isnull=False
    )
    return sawn.exists()


def _own_codes(addition: CutPlan) -> set[str]:
    """Label codes of the stock pieces on which its own pieces lie."""
    fixed = {(one["piece"], one["copy"]) for one in addition.job["fixed"]}
    assert addition.answer is not None
    return {
        placed["metal"]
        for placed in addition.answer["placements"]
        if (placed["piece"], placed["copy"]) not in fixed
    }
