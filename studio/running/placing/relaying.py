"""A student's pieces are laid anew on the true blank: what a worker does."""

from __future__ import annotations

import logging

from django.utils.translation import gettext_noop

from studio.core.placing import apart as search_apart
from studio.core.placing import place
from studio.steps.relaying.by_server import SECONDS, claim_relay, fail_relay, keep_relay

logger = logging.getLogger(__name__)

FIRST_PLAN_SECONDS = 60.0
FAULT = gettext_noop(
    "A fault in the program stopped it, which has been written down. You can ask once more."
)


def run(job_pk: int, worker: str, *, rounds: int | None = None, apart: bool = False) -> bool:
    """Do it if it is free; True when this very call has ended it.

    With `rounds` as many are made instead of some seconds; with `apart` in a process of its own.
    """
    job = claim_relay(job_pk, worker)
    if job is None:
        return False
    try:
        found = (search_apart.place if apart else place)(
            job.plan.asked,
            seconds=SECONDS if rounds is None else None,
            seed=job.plan.seed,
            rounds=rounds,
            first_within=FIRST_PLAN_SECONDS,
        )
    except Exception:
        logger.exception("laying anew %s", job_pk)
        fail_relay(job, FAULT)
        return False
    return keep_relay(job, found)
