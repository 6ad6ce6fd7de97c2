"""The first run: a fresh installation gets its school and the teacher who looks after it."""

from __future__ import annotations

from django.db import IntegrityError, transaction

from classroom.models import Role, School, User, record
from classroom.refusals import Refused
from classroom.safety.topics import seed_topics

SOMEBODY_WAS_FIRST = "This school has just been set up by somebody else. Sign in instead."


def is_fresh() -> bool:
    """Whether there is no school yet."""
    return not School.objects.exists()


def set_up(school: School, *, username: str, display_name: str, passphrase: str) -> User:
    """Save the (validated) school with its safety topics and its first teacher.

    Raises Refused when there is a school already; of two at once, one is refused.
    """
    try:
        with transaction.atomic():
            if not is_fresh():
                raise Refused(SOMEBODY_WAS_FIRST)
            school.from_first_run = True
            school.save()
            teacher = User.objects.create_user(
                username,
                passphrase,
                display_name=display_name,
                school=school,
                role=Role.TEACHER,
                keeps_school=True,
            )
            seed_topics(school)
            record(teacher, "set-up", school, f"{school.name} set up")
    except IntegrityError as error:
        raise Refused(SOMEBODY_WAS_FIRST) from error
    return teacher
