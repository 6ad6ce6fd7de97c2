"""The server lays a student's pieces anew on the blank as it came out: asked for, done, kept.

The plan stays what it is, at the bench with its metal and its price; only what lies where changes.
Its placing job says how the search stands.
"""

from __future__ import annotations

import datetime as dt

from django.conf import settings
from django.db import transaction
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from classroom.models import User, record
from classroom.refusals import Refused
from studio.core.cutting import Plan, plan_to_json
from studio.core.offcuts.own_blank import as_laid, no_longer_holds
from studio.core.placing import ENGINE_VERSION
from studio.core.verifying import missing
from studio.models import CutPlan, PlacingJob
from studio.steps.layouts.may_lay import why_plan_is_fixed
from studio.tasks import lay_blank_anew

QUEUED, RUNNING = PlacingJob.State.QUEUED, PlacingJob.State.RUNNING
DONE, FAILED = PlacingJob.State.DONE, PlacingJob.State.FAILED
NO_ROOM = gettext_noop(
    "The pieces do not all fit on this blank. Try the layout table, or bring the blank back and "
    "place the pattern anew."
)
SECONDS = 6.0
"""One student's pieces on one or two blanks are soon laid."""


@transaction.atomic
def ask_relay(plan: CutPlan, *, acting: User) -> PlacingJob:
    """Have the pieces laid anew on the plan's own blanks; once more where a try has failed.

    Asking again while a worker is at it changes nothing. Raises Refused where the plan is no
    student's own, where its layout holds, and once papers are being stuck on.
    """
    held = _held(plan)
    job, _made = PlacingJob.objects.get_or_create(plan=held, defaults={"state": DONE})
    if job.state == RUNNING and job.lease_until and job.lease_until > timezone.now():
        return job
    again = PlacingJob.objects.filter(pk=job.pk)
    again.update(state=QUEUED, worker="", error="", queued_at=timezone.now(), ended_at=None)
    transaction.on_commit(lambda: lay_blank_anew.enqueue(job.pk))
    record(acting, "relay-asked", held, "asked to have the pieces laid anew on the own blank")
    job.refresh_from_db()
    return job


def claim_relay(job_pk: int, worker: str) -> PlacingJob | None:
    """Take it up for `worker`; None when it is done, or somebody else is at it."""
    now = timezone.now()
    free = Q(state=QUEUED) | Q(state=RUNNING, lease_until__lt=now)
    lease = now + dt.timedelta(seconds=settings.PLACING_LEASE_SECONDS + 2 * SECONDS)
    own = CutPlan.objects.filter(state=CutPlan.State.ISSUED, parent__isnull=False)
    taken = PlacingJob.objects.filter(free, pk=job_pk, plan__in=own).update(
        state=RUNNING, worker=worker, lease_until=lease, started_at=now
    )
    return PlacingJob.objects.select_related("plan").get(pk=job_pk) if taken else None


def keep_relay(job: PlacingJob, found: Plan) -> bool:
    """What the search has found becomes the plan's layout, where the judge finds no fault; else
    the job says that the pieces have no room. False where neither is this worker's to say."""
    asked = job.plan.asked
    holds = not (no_longer_holds(asked, found.placements) or missing(asked, found.placements))
    with transaction.atomic():
        mine = PlacingJob.objects.filter(pk=job.pk, worker=job.worker, state=RUNNING)
        ended = {"ended_at": timezone.now(), "lease_until": None}
        if not holds:
            return bool(mine.update(state=FAILED, error=NO_ROOM, **ended))
        held = CutPlan.objects.select_for_update(no_key=True).get(pk=job.plan_id)
        if why := why_plan_is_fixed(held):
            return bool(mine.update(state=FAILED, error=why[:300], **ended))
        if not mine.update(state=DONE, error="", **ended):
            return False
        held.answer = plan_to_json(as_laid(asked, found.placements, found))
        held.to_lay_anew, held.engine_version = False, ENGINE_VERSION
        held.save(update_fields=["answer", "to_lay_anew", "engine_version"])
        school = held.course.school
        record(None, "plan-laid-anew", held, "laid the pieces anew on the own blank", school=school)
    return True


def fail_relay(job: PlacingJob, why: str) -> None:
    """The search came to nothing; the sentence is shown to whoever asked."""
    PlacingJob.objects.filter(pk=job.pk, worker=job.worker, state=RUNNING).update(
        state=FAILED, error=why[:300], ended_at=timezone.now(), lease_until=None
    )


def _held(plan: CutPlan) -> CutPlan:
    held = CutPlan.objects.select_for_update(no_key=True).get(pk=plan.pk)
    if held.parent_id is None or held.state != CutPlan.State.ISSUED:
        raise Refused(_("This is no student's own blank at the bench."))
    if not held.to_lay_anew:
        raise Refused(_("The layout holds on this blank: there is nothing to lay anew."))
    if why := why_plan_is_fixed(held):
        raise Refused(why)
    return held
