"""The questions of a safety topic: asked in a new order each time, all of them to be right.

A sheet is signed, not stored: it names the wording and the order, so that what comes back is
marked against exactly what was shown. Every attempt is kept with the questions as asked.
"""

from __future__ import annotations

import datetime as dt
import random
import secrets
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from django.core import signing
from django.db import IntegrityError, transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from classroom.models import PermitWithdrawal, QuestionAttempt, Topic, TopicWording, User, record
from classroom.refusals import Refused

from .topics import stored_wording

PAUSE: Final = dt.timedelta(minutes=2)
"""Wait after an attempt that did not pass: time to read again (common practice, no source)."""
SHEET_SECONDS: Final = 4 * 60 * 60
_SALT: Final = "classroom.questions"


@dataclass(frozen=True, slots=True)
class AskedQuestion:
    """One question as shown; `right` is the place of the right option."""

    text: str
    options: tuple[str, ...]
    right: int
    why: str

    def as_json(self) -> dict[str, Any]:
        return {
            "text": self.text,
            "options": list(self.options),
            "right": self.right,
            "why": self.why,
        }


@dataclass(frozen=True, slots=True)
class Sheet:
    """A sheet of questions for one student; `token` comes back with the answers."""

    token: str
    wording: TopicWording
    questions: tuple[AskedQuestion, ...]


def new_sheet(student: User, topic: Topic, language: str) -> Sheet:
    """The topic's questions in a new order. Raises Refused where there is nothing to ask."""
    _may_answer(student, topic)
    wording = stored_wording(topic, language)
    nonce = secrets.token_hex(16)
    token = signing.dumps({"w": wording.pk, "s": student.pk, "n": nonce}, salt=_SALT)
    return Sheet(token, wording, shuffled(wording.questions, nonce))


def reopened(student: User, topic: Topic, token: str) -> Sheet | None:
    """The sheet of this token as it was shown, or None where it is no sheet of this student."""
    try:
        said = signing.loads(token, salt=_SALT, max_age=SHEET_SECONDS)
    except signing.BadSignature:
        return None
    wording = TopicWording.objects.filter(pk=said["w"], topic=topic).first()
    if said["s"] != student.pk or wording is None or wording.version != topic.version:
        return None
    return Sheet(token, wording, shuffled(wording.questions, said["n"]))


def answer(
    student: User, topic: Topic, token: str, given: Mapping[int, int | None]
) -> QuestionAttempt:
    """Mark the sheet and keep the attempt; `given` maps question to option, by place.

    The same sheet sent twice is one attempt. Raises Refused for somebody else's or an old sheet,
    a topic that has been reworded since, a question without an answer (nothing is kept), and
    during the pause after an attempt that did not pass.
    """
    _may_answer(student, topic)
    again = _("Open the questions again.")
    try:
        said = signing.loads(token, salt=_SALT, max_age=SHEET_SECONDS)
    except signing.BadSignature as error:
        raise Refused(_("This sheet of questions is too old.") + " " + again) from error
    if said["s"] != student.pk:
        raise Refused(_("This sheet was somebody else's.") + " " + again)
    wording = TopicWording.objects.filter(pk=said["w"], topic=topic).first()
    if wording is None:
        raise Refused(_("This sheet belongs to another topic.") + " " + again)
    asked = shuffled(wording.questions, said["n"])
    answers = [_option(given.get(place), one) for place, one in enumerate(asked)]
    try:
        with transaction.atomic():
            User.objects.select_for_update().get(pk=student.pk)
            before = QuestionAttempt.objects.filter(sheet=said["n"]).first()
            if before is not None:
                return before
            if wording.version != Topic.objects.get(pk=topic.pk).version:
                raise Refused(_("The teacher has reworded this topic since.") + " " + again)
            until = pause_until(student, topic)
            if until is not None:
                raise Refused(_("Wait a little and read the lesson again before the next try."))
            if None in answers:
                raise Refused(_("Answer every question; some have no answer yet."))
            right = sum(one.right == chosen for one, chosen in zip(asked, answers, strict=True))
            attempt = QuestionAttempt.objects.create(
                student=student,
                topic=topic,
                topic_version=wording.version,
                wording=wording,
                asked=[one.as_json() for one in asked],
                given=answers,
                right=right,
                passed=right == len(asked),
                sheet=said["n"],
            )
            record(
                student,
                "answer-questions",
                topic,
                f"{student}: questions on “{topic}”, {right} of {len(asked)} right",
                attempt=attempt.pk,
            )
    except IntegrityError:
        return QuestionAttempt.objects.get(sheet=said["n"])
    return attempt


def pause_until(student: User, topic: Topic) -> dt.datetime | None:
    """When the student may try again, while the pause after a failed attempt runs."""
    last = QuestionAttempt.objects.filter(student=student, topic=topic).first()
    if last is None or last.passed:
        return None
    until, now = last.at + PAUSE, timezone.now()
    # An attempt later than now was made before the clock was put back: no pause is that long.
    return until if last.at <= now < until else None


def passes(
    students: Iterable[User], topics: Sequence[Topic], now: dt.datetime
) -> dict[tuple[int, int], QuestionAttempt]:
    """The passed attempts that still count, by student and topic id; two queries.

    A pass counts for the topic's present version, as many days as a permit lasts, and until a
    permit of the topic is withdrawn from the student.
    """
    by_id = {topic.pk: topic for topic in topics}
    people = [student.pk for student in students]
    withdrawn = {
        (row["permit__student"], row["permit__topic"]): row["withdrawn_at"]
        for row in PermitWithdrawal.objects.filter(
            permit__student__in=people, permit__topic__in=by_id
        )
        .order_by("withdrawn_at")
        .values("permit__student", "permit__topic", "withdrawn_at")
    }
    found: dict[tuple[int, int], QuestionAttempt] = {}
    rows = (
        QuestionAttempt.objects.filter(student__in=people, topic__in=by_id, passed=True)
        .defer("asked", "given")
        .order_by("at")
    )
    for attempt in rows:
        key = (attempt.student_id, attempt.topic_id)
        topic = by_id[attempt.topic_id]
        if attempt.topic_version != topic.version:
            continue
        if attempt.at + dt.timedelta(days=topic.valid_days) < now:
            continue
        ended = withdrawn.get(key)
        if ended is None or attempt.at > ended:
            found[key] = attempt
    return found


def shuffled(questions: Sequence[Mapping[str, Any]], nonce: str) -> tuple[AskedQuestion, ...]:
    """The questions in the order that the nonce gives, their options too."""
    order = random.Random(nonce)  # noqa: S311  # an order to be repeated, not a secret
    asked = []
    for question in order.sample(list(questions), len(questions)):
        options = [question["right"], *question["wrong"]]
        order.shuffle(options)
        asked.append(
            AskedQuestion(
                question["text"],
                tuple(options),
                options.index(question["right"]),
                question.get("why", ""),
            )
        )
    return tuple(asked)


def _option(chosen: int | None, asked: AskedQuestion) -> int | None:
    return chosen if chosen is not None and 0 <= chosen < len(asked.options) else None


def _may_answer(student: User, topic: Topic) -> None:
    if not student.is_student or student.school_id != topic.school_id:
        raise Refused(_("Students answer the questions of their own school."))
    if topic.retired_at is not None:
        raise Refused(_("This topic is out of use; no permit is asked for it."))
    if not topic.questions:
        raise Refused(_("This topic has no questions; ask your teacher for the check."))
