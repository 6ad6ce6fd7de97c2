"""A trial layout of a pattern: asked for as soon as the pattern is read, once for each state.

What pattern, rack and rules are now says a *key*; a row is kept for it, so the same state is never
searched twice. A row that finds its person's places taken waits in the table, and is started when
one of them ends or its page is looked at. None of it reserves anything.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass
from functools import partial
from typing import Any

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from classroom.models import User
from classroom.refusals import Refused
from inventory.models import Metal, StockPiece
from studio.core.cutting.job import to_wkt
from studio.core.drawing import Piece
from studio.models import Pattern, Project, TrialLayout
from studio.steps.plans.asking import choose_stock, make_job, piece_id, wanted_of
from studio.steps.plans.placing_settings import rules_for
from studio.tasks import lay_first, lay_trial

from . import trial_lease as lease

STAGES = (
    Project.Stage.DRAWING,
    Project.Stage.RETURNED,
    Project.Stage.HANDED_IN,
    Project.Stage.PATTERN_APPROVED,
)
"""Until its cut plan is approved a pattern is tried out; then the plan itself is there."""

MOST_OPEN = 2
"""Searches of one person that are in the queue or under way at once."""

MOST_KEPT = 3
"""States of one pattern whose trial is kept."""

FORGOTTEN_AFTER = dt.timedelta(seconds=20)
"""A trial that nobody has begun for so long is queued once more by whoever looks at it."""


@dataclass(frozen=True, slots=True)
class Asked:
    """The job of a pattern as it, the rack and the rules are now, and the metal it is for."""

    job: dict[str, Any]
    metal: Metal

    @property
    def key(self) -> str:
        """The same for the same pieces, copies, metal, rules and stock pieces offered."""
        return digest_of(self.job)


def digest_of(said: Any) -> str:
    return hashlib.sha256(json.dumps(said, sort_keys=True).encode()).hexdigest()


def can_be_tried(pattern: Pattern) -> bool:
    """Whether the version counts, has pieces and no stop, and has no cut plan's metal yet."""
    return pattern.is_current and pattern.project.stage in STAGES and pattern.may_be_handed_in


def metal_of(project: Project) -> Metal:
    """The project's metal, else the brief's first one that the rack has. Raises Refused."""
    allowed = list(project.brief.metals.all())
    for metal in allowed:
        if metal.pk == project.metal_id:
            return metal
    there = on_the_rack(allowed)
    if not there:
        raise Refused("The rack has none of the brief's metals.")
    return there[0]


def on_the_rack(metals: Iterable[Metal]) -> list[Metal]:
    """Those of which the rack has any, in their order."""
    known = list(metals)
    found = set(
        StockPiece.objects.on_the_rack().filter(metal__in=known).values_list("metal_id", flat=True)
    )
    return [metal for metal in known if metal.pk in found]


def asked_of(pattern: Pattern, metal: Metal | None = None) -> Asked:
    """What the engine would be asked today. Raises Refused where there is nothing to lay it on."""
    brief = pattern.project.brief
    school = brief.course.school
    chosen = metal or metal_of(pattern.project)
    rules = rules_for(school, brief.course)
    stock = choose_stock(
        chosen,
        wanted_of([pattern]),
        gap_mm=rules.apart([brief]).gap_mm,
        margin_mm=float(rules.edge_margin_mm),
        grain_rule=rules.sheet_grain if brief.grain_deg is not None else "",
    )
    return Asked(make_job([pattern], stock, school), chosen)


def with_outlines(job: dict[str, Any], pattern: Pattern, pieces: Iterable[Piece]) -> dict[str, Any]:
    """The job with other outlines for the pattern's pieces, which keep their ids."""
    outlines = {piece_id(pattern, piece): to_wkt(piece.outline) for piece in pieces}
    return job | {
        "pieces": [
            one | {"outline": outlines.get(one["id"], one["outline"])} for one in job["pieces"]
        ]
    }


def ask_soon(pattern: Pattern) -> None:
    """The pattern was stored or changed: a worker lays it, once the transaction is through.

    Nothing that happens here can refuse what was stored.
    """
    if settings.TRIALS and pattern.may_be_handed_in:
        transaction.on_commit(partial(lay_first.enqueue, pattern.pk), robust=True)


def trial_of(pattern: Pattern, *, start_it: bool = True) -> TrialLayout:
    """The trial of the pattern's state of today; asked for where there is none.

    With `start_it` it is queued as well, unless its student has `MOST_OPEN` before it. Raises
    Refused where there is nothing to lay it on.
    """
    asked = asked_of(pattern)
    key = asked.key
    trial = TrialLayout.objects.filter(pattern=pattern, key=key).first()
    if trial is None:
        with transaction.atomic():
            trial, made = TrialLayout.objects.get_or_create(
                pattern=pattern,
                key=key,
                defaults={
                    "job": asked.job,
                    "asked_by": pattern.project.student,
                    "others": {"metal": asked.metal.pk},
                },
            )
            if made:
                _make_room(trial)
                if start_it:
                    start(trial)
    elif start_it and _was_forgotten(trial) and lease.wake(trial):
        start(trial)
    return trial


def _was_forgotten(trial: TrialLayout) -> bool:
    waits = timezone.now() - trial.asked_at
    return trial.state == lease.QUEUED and waits > FORGOTTEN_AFTER


def _make_room(newest: TrialLayout) -> None:
    """Older states that wait are not laid any more; of the others the newest stay."""
    older = TrialLayout.objects.filter(pattern=newest.pattern_id).exclude(pk=newest.pk)
    older.filter(state=lease.QUEUED).delete()
    kept = list(older.order_by("-pk").values_list("pk", flat=True)[: MOST_KEPT - 1])
    older.exclude(pk__in=kept).delete()


def may_start(trial: TrialLayout) -> bool:
    """Whether fewer than `MOST_OPEN` of the same person's are before it."""
    before = TrialLayout.objects.filter(
        asked_by=trial.asked_by_id, state__in=TrialLayout.OPEN, pk__lt=trial.pk
    )
    return before.count() < MOST_OPEN


def start(trial: TrialLayout) -> None:
    """Queue it once the transaction is through, if its person has a place free."""
    if may_start(trial):
        transaction.on_commit(partial(lay_trial.enqueue, trial.pk), robust=True)


def start_waiting(person: User | None) -> None:
    """One of the person's searches is over: the next that waits is queued."""
    waiting = TrialLayout.objects.filter(asked_by=person, state__in=TrialLayout.OPEN)
    for trial in waiting.order_by("pk")[:MOST_OPEN]:
        if trial.state == lease.QUEUED and lease.wake(trial):
            start(trial)
