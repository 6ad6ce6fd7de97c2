"""How a cut plan stands, in the language that is on."""

from __future__ import annotations

from django.utils.translation import gettext, gettext_noop

from studio.models import CutPlan

STATES = {
    CutPlan.State.PLACING: gettext_noop("being placed"),
    CutPlan.State.PROPOSED: gettext_noop("proposed"),
    CutPlan.State.APPROVED: gettext_noop("approved, metal reserved"),
    CutPlan.State.ISSUED: gettext_noop("metal handed out"),
    CutPlan.State.CLOSED: gettext_noop("closed"),
    CutPlan.State.DROPPED: gettext_noop("dropped"),
    CutPlan.State.PARTED: gettext_noop("parted into blanks"),
}


def state_of(plan: CutPlan | None) -> str:
    return gettext(STATES[CutPlan.State(plan.state)]) if plan else ""
