"""One short search from claim to what is kept of it: what a worker does."""

from __future__ import annotations

import logging
from collections.abc import Callable
from decimal import Decimal

from django.conf import settings
from django.db import InterfaceError, OperationalError, transaction
from django.utils.translation import gettext

from classroom.files.full_disk import is_full
from classroom.languages import in_language, known
from classroom.models import User
from classroom.refusals import Refused
from studio.core.confining import Ended
from studio.core.cutting import Job, Plan, job_from_json, plan_to_json
from studio.core.cutting.groups import group_of
from studio.core.laying_out.beside import AS_GOOD
from studio.core.offcuts.rack_offcuts import with_rack_offcuts
from studio.core.placing import apart as search_apart
from studio.core.placing import place
from studio.core.verifying import faults, measure
from studio.models import Pattern, TrialLayout
from studio.running.closing import ENDING
from studio.steps.layouts import trial_lease as lease
from studio.steps.layouts.estimate import holes_of, price_of
from studio.steps.layouts.server_tries import keep_try
from studio.steps.layouts.trial import can_be_tried, may_start, start_waiting, trial_of
from studio.tasks import say_what_would_change

from . import wishes
from .wishes import Effort, Wished

logger = logging.getLogger(__name__)

DATABASE_AWAY = (OperationalError, InterfaceError)
FIRST = Effort(seconds=0.5, rounds=3)
FIRST_PLAN_SECONDS = 30.0
"""On a busy machine the first plan may take so long: pieces are not left out for the clock."""
LATER = -50
"""What would change comes after every first layout that waits, where the queue knows priority."""


def run_first(pattern_pk: int, worker: str) -> bool:
    """Lay a pattern that was just stored or changed; True when this very call laid it."""
    pattern = (
        Pattern.objects.select_related(
            "project__brief__course__school", "project__seat__student", "project__metal"
        )
        .defer("tracing", "findings_json", "changes", "recipe")
        .filter(pk=pattern_pk)
        .first()
    )
    if pattern is None or not can_be_tried(pattern):
        return False
    try:
        trial = trial_of(pattern, start_it=False)
    except Refused:
        return False  # the page says so in words
    return trial.state == lease.QUEUED and may_start(trial) and run(trial.pk, worker)


def run(trial_pk: int, worker: str) -> bool:
    """Do the search if it is free; True when what came of it was kept by this very call.

    Raises what a database raises that is away: the search keeps its lease, and the reaper queues
    it again.
    """
    trial = lease.claim(trial_pk, worker)
    if trial is None:
        return False
    try:
        with in_language(_language_of(trial.asked_by)):
            kept = _do(trial, worker)
    except Ended:
        lease.give_back(trial_pk, worker)
        return False
    except Exception as error:
        if isinstance(error, DATABASE_AWAY) and not is_full(error):
            raise
        if isinstance(error, search_apart.Died) and ENDING.is_set():
            lease.give_back(trial_pk, worker)
            return False
        logger.exception("trial %s", trial_pk)
        with in_language(_language_of(trial.asked_by)):
            lease.fail(trial_pk, worker, fault_words())
        kept = False
    start_waiting(trial.asked_by)
    return kept


def fault_words() -> str:
    return gettext(
        "A fault in the program stopped it, which has been written down for those who look after "
        "it. You can ask once more."
    )


def lost_words() -> str:
    return gettext("It was begun twice and what worked on it went away. You can ask once more.")


def _language_of(person: User | None) -> str:
    return known((person.language or person.school.language) if person is not None else "en")


def _do(trial: TrialLayout, worker: str) -> bool:
    try:
        if trial.layout is None:
            return _lay_pattern(trial, worker)
        return _lay_for(trial, worker)
    except Refused as refusal:
        lease.fail(trial.pk, worker, str(refusal))
        return False


def _lay_pattern(trial: TrialLayout, worker: str) -> bool:
    """The layout first, alone; what something else would change comes after it."""
    job = job_from_json(trial.job)
    plan = with_rack_offcuts(job, searched(job, FIRST))
    price = price_of_trial(trial, job, plan)
    todo = ["side", "turn", "metal"] if not plan.unplaced else []
    others = trial.others | {"price": str(price), "todo": todo, "told": []}
    kept = lease.finish(trial.pk, worker, answer=plan_to_json(plan), others=others)
    if kept and todo:
        queue_what_would_change(trial.pk)
    return kept


def price_of_trial(trial: TrialLayout, job: Job, plan: Plan) -> Decimal:
    """What the pattern's project would pay; `plan` has the offcuts that the rack would get."""
    pattern = trial.pattern
    assert pattern is not None
    sawn = {group_of(pattern.project_id): plan.measures.saw_line_mm}
    course = pattern.project.brief.course
    return price_of(job, plan.placements, plan.offcuts, sawn, holes_of(pattern), course)


def queue_what_would_change(trial_pk: int) -> None:
    task = say_what_would_change
    if task.get_backend().supports_priority:
        task = task.using(priority=LATER)
    transaction.on_commit(lambda: task.enqueue(trial_pk), robust=True)


def _lay_for(trial: TrialLayout, worker: str) -> bool:
    """What somebody asked for on the layout table becomes a try of its own."""
    wished = wishes.wished(trial)
    plan = searched(wished.job, wished.effort)
    _refuse_nothing_won(trial, wished, plan)
    with transaction.atomic():
        if not lease.finish(trial.pk, worker, answer=plan_to_json(plan)):
            return False
        keep_try(trial, plan)
    return True


def _refuse_nothing_won(trial: TrialLayout, wished: Wished, plan: Plan) -> None:
    if not plan.placements:
        raise Refused(gettext("No piece found a place on this metal."))
    if trial.wish == TrialLayout.Wish.REST and len(plan.placements) <= len(wished.job.fixed):
        raise Refused(
            gettext("No piece from the tray found a place beside those that lie. Move one first.")
        )
    if trial.wish == TrialLayout.Wish.IMPROVE and not _is_better(trial, wished, plan):
        raise Refused(gettext("The server looked and found nothing better than what lies now."))


def _is_better(trial: TrialLayout, wished: Wished, plan: Plan) -> bool:
    """Whether more pieces lie than before, or metal and sawing cost less."""
    before = (*wished.job.fixed, *wished.job.start)
    cuts = () if trial.layout is None else trial.layout.parted
    if len(plan.placements) > len(before) or faults(wished.job, before, cuts):
        return True
    cost = measure(wished.job, before, cuts)[0].cost
    return plan.measures.cost < cost * (1.0 - AS_GOOD if cost > 0 else 1.0 + AS_GOOD)


def searched(job: Job, effort: Effort) -> Plan:
    """The engine's plan, which the judge has looked at once more. Raises Ended, Died, Refused."""
    find: Callable[..., Plan] = search_apart.place if settings.PLACING_APART else place
    plan = find(
        job,
        seconds=effort.seconds,
        rounds=effort.rounds,
        on_progress=lambda _: not ENDING.is_set(),
        first_within=FIRST_PLAN_SECONDS,
    )
    if ENDING.is_set():
        raise Ended
    wrong = faults(job, plan.placements, plan.cuts)
    if wrong:
        logger.error("the engine ended with a faulty layout: %s", wrong[0])
        raise Refused(gettext("No layout was found that passes the check. You can ask once more."))
    return plan
