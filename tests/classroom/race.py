"""Six clicks at the very same moment, on the database that the settings name."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from functools import partial

AT_ONCE = 6


def outcomes(deed: Callable[[int], object]) -> dict[str, int]:
    """How many of the clicks were done, how many refused; anything else by its own words."""
    from classroom.refusals import Refused
    from tests.at_once import at_once

    def said(outcome: object) -> str:
        if isinstance(outcome, Refused):
            return "refused"
        return repr(outcome)[:200] if isinstance(outcome, Exception) else "done"

    clicks = at_once(*(partial(deed, number) for number in range(AT_ONCE)))
    return dict(Counter(said(outcome) for outcome in clicks))


def run() -> dict[str, dict[str, int]]:
    from classroom.models import BenchPermit, Course, QuestionAttempt, School, Topic, User
    from classroom.people.class_list import add_students, digest_of, look_at
    from classroom.people.roster import read_roster
    from classroom.safety.permits import give_permit, withdraw
    from classroom.safety.questions import answer, new_sheet
    from classroom.setting_up import set_up
    from classroom.signin.passphrases import issue_cards

    found = {}
    found["first run"] = outcomes(
        lambda number: set_up(
            School(name=f"School {number}"),
            username=f"teacher{number}",
            display_name="T",
            passphrase="tide-lantern-quay-42",
        )
    )
    teacher = User.objects.get()
    course = Course.objects.create(
        school=teacher.school, title="M", term="A", starts_on="2026-09-01", ends_on="2027-01-01"
    )
    course.teachers.add(teacher)
    lines = read_roster("Ansel Dory\nBo Ketch").lines
    seen = digest_of(look_at(course, lines, acting=teacher))
    found["class list"] = outcomes(
        lambda _: add_students(course, lines, {}, seen=seen, acting=teacher)
    )
    student = User.objects.get(username="ansel.d")
    found["cards"] = outcomes(lambda _: issue_cards([student], acting=teacher))
    topic = Topic.objects.all()[0]
    sheet = new_sheet(student, topic, "en")
    right = {place: one.right for place, one in enumerate(sheet.questions)}
    found["questions"] = outcomes(lambda _: answer(student, topic, sheet.token, right))
    found["permit"] = outcomes(lambda _: give_permit(student, topic, acting=teacher, remark=""))
    permit = BenchPermit.objects.all()[0]
    found["withdrawal"] = outcomes(lambda _: withdraw(permit, acting=teacher, reason="No goggles"))
    found["rows"] = {
        "schools": School.objects.count(),
        "people": User.objects.count(),
        "seats": course.seats.count(),
        "attempts": QuestionAttempt.objects.count(),
        "permits": BenchPermit.objects.count(),
    }
    return found
