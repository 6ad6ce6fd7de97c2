"""A teacher writes, changes, closes or opens a brief."""

from __future__ import annotations

from collections.abc import Iterable

from django.db import transaction
from django.utils import timezone

from classroom.models import User, record
from classroom.refusals import Refused
from inventory.models import Metal
from studio.models import Brief, Pattern
from studio.steps.patterns.recheck import look_again, put_down


@transaction.atomic
def write_brief(brief: Brief, metals: Iterable[Metal], *, acting: User) -> Brief:
    """Save a new brief with the metals it allows."""
    if brief.course.closed_at is not None:
        raise Refused("This course is closed, so it takes no new brief.")
    brief.created_by = acting
    brief.save()
    brief.metals.set(metals)
    record(acting, "brief-written", brief, "wrote the brief")
    return brief


def change_brief(brief: Brief, metals: Iterable[Metal], *, acting: User) -> int:
    """Save a changed brief; where its limits changed, check open patterns against them again.

    Drafts, waiting and returned patterns are measured anew; approved ones keep what was
    approved. Answers how many patterns were checked again. Each pattern has its own short
    transaction, so that a large class does not keep the database waiting.
    """
    with transaction.atomic():
        before = Brief.objects.select_for_update().get(pk=brief.pk)
        limits_changed = before.limits != brief.limits
        laying = {
            name: getattr(brief, name)
            for name in ("laid_by", "least_kept_percent")
            if getattr(before, name) != getattr(brief, name)
        }
        brief.closed_at = before.closed_at  # somebody may have closed it since the form was made
        brief.save()
        brief.metals.set(metals)
        record(acting, "brief-changed", brief, "changed the brief", limits=limits_changed, **laying)
    return check_again(brief) if limits_changed else 0


def check_again(brief: Brief) -> int:
    """Measure every open pattern of the brief against its limits; how many there were."""
    open_states = [Pattern.State.DRAFT, Pattern.State.HANDED_IN, Pattern.State.RETURNED]
    patterns = Pattern.objects.filter(project__brief=brief, state__in=open_states)
    keys = list(patterns.values_list("pk", flat=True))
    for pk in keys:
        with transaction.atomic():
            pattern = (
                Pattern.objects.select_for_update(of=("self",))
                .select_related("project__brief")
                .filter(pk=pk, state__in=open_states)
                .first()
            )
            if pattern is not None:
                put_down(pattern, look_again(pattern))
                pattern.save(update_fields=["drawing_json", "findings_json"])
    return len(keys)


@transaction.atomic
def close_brief(brief: Brief, *, acting: User) -> None:
    """Take no more patterns for the brief; what is at the bench goes on. Twice is once."""
    if Brief.objects.filter(pk=brief.pk, closed_at=None).update(closed_at=timezone.now()):
        record(acting, "brief-closed", brief, "closed the brief")


@transaction.atomic
def open_brief(brief: Brief, *, acting: User) -> None:
    """Open a closed brief again."""
    if Brief.objects.filter(pk=brief.pk).exclude(closed_at=None).update(closed_at=None):
        record(acting, "brief-opened", brief, "opened the brief again")
