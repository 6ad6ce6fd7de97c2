"""Incidents and near misses: written down once, corrected by a further row."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import Max
from django.utils import timezone

from classroom.models import BenchPermit, Incident, School, Seat, User, record
from classroom.refusals import Refused

from .permits import ask_again

FIELDS = ("kind", "happened_at", "place", "course", "topic", "tool", "what", "told", "changed")


def write_down(fields: dict[str, Any], *, seats: Iterable[Seat], acting: User) -> Incident:
    """Keep an incident or near miss with the school's next number."""
    _check(fields, acting)
    with transaction.atomic():
        # Holds up a second teacher on PostgreSQL; SQLite's transactions stand in line anyway.
        School.objects.select_for_update(no_key=True).get(pk=acting.school_id)
        last = Incident.objects.filter(school=acting.school_id).aggregate(last=Max("number"))
        made = Incident.objects.create(
            school=acting.school, number=(last["last"] or 0) + 1, written_by=acting, **fields
        )
        made.seats.set(seats)
        record(acting, "write-incident", made, f"{made} written down")
    return made


def correct(
    incident: Incident, fields: dict[str, Any], *, seats: Iterable[Seat], reason: str, acting: User
) -> Incident:
    """A new row in the place of `incident`, which stays; raises Refused if it has one already."""
    _check(fields, acting)
    if incident.school_id != acting.school_id:
        raise Refused("Incidents are corrected within one school only.")
    if not reason.strip():
        raise Refused("Say what was wrong with the first writing.")
    try:
        with transaction.atomic():
            made = Incident.objects.create(
                school=acting.school,
                number=incident.number,
                written_by=acting,
                corrects=incident,
                correction_reason=reason.strip()[:200],
                **fields,
            )
            made.seats.set(seats)
            record(acting, "correct-incident", made, f"{made} corrected")
    except IntegrityError as error:
        raise Refused(
            "Somebody else has corrected this since you opened it. Open it again and look."
        ) from error
    return made


def versions(incident: Incident) -> list[Incident]:
    """Every writing of the incident, the first one first."""
    return list(
        Incident.objects.filter(school=incident.school_id, number=incident.number)
        .select_related("course", "topic", "written_by", "corrects")
        .prefetch_related("seats__student")
        .order_by("pk")
    )


def permits_concerned(incident: Incident) -> list[BenchPermit]:
    """Permits in force of the people named, those of the incident's topic first."""
    permits = (
        BenchPermit.objects.in_force(timezone.localdate())
        .filter(student__in=[seat.student_id for seat in incident.seats.all()])
        .select_related("student", "topic")
        .order_by("student__display_name", "topic__title", "pk")
    )
    return sorted(permits, key=lambda permit: permit.topic_id != incident.topic_id)


def suspend(incident: Incident, permits: Iterable[BenchPermit], *, acting: User) -> int:
    """Withdraw permits because of the incident; the reason names it and tells no more.

    Returns how many were withdrawn; raises Refused when none is left in force.
    """
    local = timezone.localtime(incident.happened_at)
    reason = f"{incident} of {local:%d %b %Y}. Talk with your teacher about the next step."
    concerned = {permit.pk for permit in permits_concerned(incident)}
    chosen = [permit for permit in permits if permit.pk in concerned]
    with transaction.atomic():
        count = ask_again(chosen, acting=acting, reason=reason)
        record(acting, "suspend-permits", incident, f"{incident}: {count} permits withdrawn")
    return count


def _check(fields: dict[str, Any], acting: User) -> None:
    if not acting.is_teacher:
        raise Refused("Teachers write incidents down.")
    if fields["happened_at"] > timezone.now():
        raise Refused("That lies in the future. Type when it happened.")
    for name in ("course", "topic"):
        if fields.get(name) is not None and fields[name].school_id != acting.school_id:
            raise Refused("Choose a course and a topic of your own school.")
