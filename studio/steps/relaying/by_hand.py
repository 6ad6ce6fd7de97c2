"""A student's pieces are laid anew on their own blank, before any paper is stuck on it."""

from __future__ import annotations

from django.db import transaction
from django.utils.translation import gettext as _

from classroom.models import User, record
from classroom.refusals import Refused
from studio.core.cutting import Plan, plan_to_json
from studio.core.offcuts.rack_offcuts import with_rack_offcuts
from studio.models import CutPlan, Layout
from studio.steps.layouts.judged import judged_fit
from studio.steps.layouts.may_lay import require_may_change, why_plan_is_fixed
from studio.steps.plans.by_hand import BY_HAND


def relay(layout: Layout, *, acting: User) -> CutPlan:
    """The layout becomes what is sawn of the student's own blank; its prices stay as charged.

    Raises Refused where papers are stuck on already, where the layout is of a shared plan, and
    where the judge finds a fault.
    """
    plan = layout.plan
    if plan is None or plan.parent_id is None:
        raise Refused(_("This is no layout of a student's own blank."))
    require_may_change(layout, acting)
    job, placements = plan.asked, layout.laid
    found = judged_fit(job, placements)
    laid = Plan(placements, (), found.measures, found.offcuts, 1, 0.0, 0, by_hand=True)
    answer = plan_to_json(with_rack_offcuts(job, laid))
    with transaction.atomic():
        held = CutPlan.objects.select_for_update(no_key=True).get(pk=plan.pk)
        if why := why_plan_is_fixed(held):
            raise Refused(why)
        if held.job != plan.job:
            raise Refused(_("The blank has been corrected meanwhile. Load the page again."))
        held.answer, held.to_lay_anew, held.engine_version = answer, False, BY_HAND
        held.save(update_fields=["answer", "to_lay_anew", "engine_version"])
        record(
            acting,
            "plan-laid-anew",
            held,
            "laid the pieces anew on the own blank",
            layout=layout.pk,
        )
    return held
