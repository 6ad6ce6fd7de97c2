"""Students who have done what a permit asks for."""

from __future__ import annotations

from classroom.models import QuestionAttempt, Topic, User
from classroom.safety.questions import Sheet, answer, new_sheet


def right_answers(sheet: Sheet) -> dict[int, int | None]:
    return {place: one.right for place, one in enumerate(sheet.questions)}


def wrong_answers(sheet: Sheet) -> dict[int, int | None]:
    """All right but the first."""
    first = sheet.questions[0]
    return right_answers(sheet) | {0: (first.right + 1) % len(first.options)}


def pass_questions(student: User, topic: Topic) -> QuestionAttempt:
    sheet = new_sheet(student, topic, "en")
    return answer(student, topic, sheet.token, right_answers(sheet))


def fail_questions(student: User, topic: Topic) -> QuestionAttempt:
    sheet = new_sheet(student, topic, "en")
    return answer(student, topic, sheet.token, wrong_answers(sheet))
