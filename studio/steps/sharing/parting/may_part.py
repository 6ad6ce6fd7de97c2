"""Who may part a stock piece now, and if not, why? One answer for pages and steps alike."""

from __future__ import annotations

from django.utils.translation import get_language
from django.utils.translation import gettext as _

from classroom.models import User
from classroom.safety.permits import missing_permits
from classroom.safety.topics import wordings_for
from studio.core.bench.part_text import PartTool
from studio.models import CutPlan, StockStep
from studio.steps.bench.situation import school_now

from .part_step import tool_in


def why_not_part(step: StockStep, user: User) -> list[str]:
    """Sentences that say what keeps this person from parting the metal; none where nothing does.

    `step` comes with `plan_stock__plan__course__school`.
    """
    plan = step.plan_stock.plan
    if plan.state != CutPlan.State.ISSUED:
        return [
            _("This plan is %(state)s, so its metal is not parted.")
            % {"state": plan.get_state_display()}
        ]
    if user.is_teacher:
        if plan.course.teachers.filter(pk=user.pk).exists():
            return []
        return [_("Only a teacher of this course does that.")]
    return _why_not_student(step, plan, user)


def _why_not_student(step: StockStep, plan: CutPlan, user: User) -> list[str]:
    if not plan.shares.filter(
        live=True, project__seat__student=user, project__seat__left_at=None
    ).exists():
        return [_("Only whoever has pieces on this metal, or the teacher, parts it.")]
    if tool_in(step) is PartTool.POWER:
        return [_("Only the teacher works the power-driven guillotine.")]
    school = plan.course.school
    missing = missing_permits(user, set(step.permits), school_now(school).date())
    words = wordings_for(missing, get_language() or "en")
    text = _("You need the bench permit “%(topic)s” first. Ask your teacher.")
    return [text % {"topic": words[topic.pk].title} for topic in missing]
