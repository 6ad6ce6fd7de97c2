"""What a student still needs before a teacher can give a bench permit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from django.utils import timezone

from classroom.models import QuestionAttempt, Topic, User

from .guardians import signatures
from .questions import passes


class Missing(StrEnum):
    QUESTIONS = "has not passed the questions of the present wording"
    GUARDIAN = "has no signed guardian form"


@dataclass(frozen=True, slots=True)
class Needs:
    """`attempt` is the pass that counts; `missing` is what is not there yet."""

    attempt: QuestionAttempt | None
    missing: tuple[Missing, ...]

    @property
    def in_words(self) -> str:
        return " and ".join(self.missing)


def needs_of(students: Sequence[User], topic: Topic) -> dict[int, Needs]:
    """What each student (by id) needs for the topic; a constant number of queries."""
    found = passes(students, [topic], timezone.now()) if topic.needs_pass else {}
    asks_guardian = topic.school.asks_guardian
    signed = signatures(students, timezone.localdate()) if asks_guardian else {}
    needs = {}
    for student in students:
        attempt = found.get((student.pk, topic.pk))
        missing = []
        if topic.needs_pass and attempt is None:
            missing.append(Missing.QUESTIONS)
        if asks_guardian and student.pk not in signed:
            missing.append(Missing.GUARDIAN)
        needs[student.pk] = Needs(attempt, tuple(missing))
    return needs
