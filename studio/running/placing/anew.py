"""Plans that were laid by an earlier version's rules, and are not approved yet, are laid anew.

Approved, issued and closed ones keep what they were placed by. Runs when a worker starts.
"""

from __future__ import annotations

import logging

from django.db import transaction
from django.db.models import Q

from classroom.models import record
from classroom.refusals import Refused
from studio.models import CutPlan
from studio.steps.plans.asking import JOB_VERSION
from studio.steps.plans.place import place_again

logger = logging.getLogger(__name__)

ROOM = "they get room for saw and file now"
SHARED = "their students get metal of their own, or a turn at the sheet, now"


def lay_anew() -> int:
    """Ask anew for every such plan, with the rack as it is now; how many there were.

    One that cannot be asked for again (its metal is gone, its course closed) stays as it is, and
    is not approved any more. Several at once are harmless: each plan is dropped once.
    """
    older = CutPlan.objects.filter(
        state__in=[CutPlan.State.PLACING, CutPlan.State.PROPOSED],
        rival_of=None,
    ).filter(Q(job__version__lt=JOB_VERSION) | Q(way=""))
    found = 0
    for plan in older.select_related("created_by", "course__school").order_by("pk"):
        try:
            with transaction.atomic():
                why = ROOM if plan.job["version"] < JOB_VERSION else SHARED
                new = place_again(
                    plan, acting=plan.created_by, seed=plan.seed, why=f"laid anew: {why}"
                )
                record(
                    None,
                    "plan-laid-anew",
                    new,
                    f"laid the pieces of plan {plan.pk} anew: {why}",
                    school=plan.course.school,
                )
        except Refused as refusal:
            logger.warning("%s was laid by earlier rules and stays: %s", plan, refusal)
        else:
            found += 1
    return found
