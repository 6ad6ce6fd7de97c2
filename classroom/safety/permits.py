"""Bench permits: who may use which tool, until when, on whose word.

A permit records that a named teacher watched the practical checks of a topic on a day, after the
student had passed its written questions. It does not say that anything is free of danger, and it
ends on its date or when a teacher withdraws it.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable

from django.db import IntegrityError, transaction
from django.utils import timezone

from classroom.models import BenchPermit, PermitWithdrawal, Topic, User, record
from classroom.refusals import Refused

from .permit_needs import needs_of
from .standings import Standing, TopicStanding, standing_of, standings
from .topics import seed_topics

__all__ = [
    "Standing",
    "TopicStanding",
    "ask_again",
    "give_permit",
    "give_permits",
    "missing_permits",
    "standing_of",
    "standings",
    "withdraw",
]


def give_permit(
    student: User,
    topic: Topic,
    *,
    acting: User,
    remark: str,
    on: dt.date | None = None,
    in_spite_of: str = "",
) -> BenchPermit:
    """Record that `acting` watched the student's practical checks on the day `on` (today).

    Ends `topic.valid_days` later. A second click on the same day gives the same permit back.
    Where the topic asks for passed questions or the school for a guardian's signature, and they
    are not there, `in_spite_of` must say why the teacher gives it all the same; it is kept.
    Raises Refused for another school's student, a topic set aside, a day that cannot be, or what
    is missing.
    """
    today = timezone.localdate()
    day = on or today
    if student.school_id != topic.school_id or acting.school_id != topic.school_id:
        raise Refused("Permits are given within one school only.")
    if not student.is_student or not acting.is_teacher:
        raise Refused("A teacher gives permits to students.")
    if topic.retired_at is not None:
        raise Refused(f"“{topic}” is out of use. Bring the topic back first.")
    if day > today:
        raise Refused("The check lies in the future. Choose the day on which you watched it.")
    expires_on = day + dt.timedelta(days=topic.valid_days)
    if expires_on < today:
        raise Refused(f"A check on {day:%d %B %Y} would have run out by now. Watch it again.")
    with transaction.atomic():
        # Holds up a second click on PostgreSQL; SQLite's transactions stand in line anyway.
        User.objects.select_for_update().get(pk=student.pk)
        same = (
            BenchPermit.objects.in_force(today)
            .filter(student=student, topic=topic, topic_version=topic.version)
            .filter(expires_on=expires_on)
            .first()
        )
        if same is not None:
            return same
        needs = needs_of([student], topic)[student.pk]
        reason = in_spite_of.strip()[:200]
        if needs.missing and not reason:
            raise Refused(
                f"{student} {needs.in_words}. Ask for that first, or say why you give the permit "
                "all the same."
            )
        permit = BenchPermit.objects.create(
            student=student,
            topic=topic,
            topic_version=topic.version,
            given_by=acting,
            given_at=_moment_on(day),
            expires_on=expires_on,
            remark=remark,
            attempt=needs.attempt,
            in_spite_of=reason if needs.missing else "",
        )
        record(
            acting,
            "give-permit",
            student,
            f"Bench permit “{topic}” for {student} until {expires_on:%d %b %Y}",
            topic=topic.pk,
            permit=permit.pk,
            in_spite_of=reason if needs.missing else "",
        )
    return permit


def give_permits(
    students: Iterable[User],
    topic: Topic,
    *,
    acting: User,
    remark: str,
    on: dt.date | None = None,
    in_spite_of: str = "",
) -> list[BenchPermit]:
    """The same permit for several students, all or none."""
    with transaction.atomic():
        return [
            give_permit(
                student, topic, acting=acting, remark=remark, on=on, in_spite_of=in_spite_of
            )
            for student in students
        ]


def withdraw(permit: BenchPermit, *, acting: User, reason: str) -> None:
    """End the student's permission for the permit's topic now, with a reason.

    Any other permit of the same student and topic that is still in force ends with it. Raises
    Refused when it was withdrawn already or the reason is empty.
    """
    if acting.school_id != permit.student.school_id or not acting.is_teacher:
        raise Refused("A teacher of the same school withdraws permits.")
    if not reason.strip():
        raise Refused("Say why the permit is withdrawn; the student reads it.")
    already = f"This permit for {permit.student} has been withdrawn already."
    try:
        with transaction.atomic():
            if PermitWithdrawal.objects.filter(permit=permit).exists():
                raise Refused(already)
            others = BenchPermit.objects.in_force(timezone.localdate()).filter(
                student=permit.student, topic=permit.topic
            )
            for one in {permit, *others}:
                PermitWithdrawal.objects.create(
                    permit=one,
                    withdrawn_by=acting,
                    withdrawn_at=timezone.now(),
                    reason=reason.strip()[:200],
                )
            record(
                acting,
                "withdraw-permit",
                permit.student,
                f"Bench permit “{permit.topic}” of {permit.student} withdrawn",
                reason=reason,
                permit=permit.pk,
            )
    except IntegrityError as error:
        raise Refused(already) from error


def ask_again(permits: Iterable[BenchPermit], *, acting: User, reason: str) -> int:
    """Withdraw several permits of one student, so that they are earned again; all or none.

    After an absence or an incident, for example. Permits that ended meanwhile are passed over.
    Returns how many were withdrawn; raises Refused when none is left or the reason is empty.
    """
    today = timezone.localdate()
    with transaction.atomic():
        count = 0
        for permit in permits:
            if BenchPermit.objects.in_force(today).filter(pk=permit.pk).exists():
                withdraw(permit, acting=acting, reason=reason)
                count += 1
        if not count:
            raise Refused("Choose at least one permit that is still in force.")
    return count


def missing_permits(student: User, codes: Collection[str], day: dt.date) -> list[Topic]:
    """The topics among `codes` for which the student has no permit in force on `day`.

    A topic that the school has set aside asks for no permit. A topic that the school does not
    have yet is given to it and is missing: an unknown danger is never waved through. Raises
    LookupError for a code that nobody knows.
    """
    if not codes:
        return []
    known = _topics(student, codes)
    if len(known) < len(set(codes)):
        seed_topics(student.school)
        known = _topics(student, codes)
        unknown = set(codes) - {topic.code for topic in known}
        if unknown:
            raise LookupError(f"no safety topic {sorted(unknown)}")
    held = set(
        BenchPermit.objects.in_force(day)
        .filter(student=student, topic__in=known)
        .values_list("topic_id", flat=True)
    )
    return [topic for topic in known if topic.retired_at is None and topic.pk not in held]


def _topics(student: User, codes: Collection[str]) -> list[Topic]:
    return list(Topic.objects.filter(school_id=student.school_id, code__in=codes))


def _moment_on(day: dt.date) -> dt.datetime:
    """Now on today, noon of an earlier day."""
    if day == timezone.localdate():
        return timezone.now()
    return timezone.make_aware(dt.datetime.combine(day, dt.time(12)))
