"""The record of an erasure names the wrong person or day: said by an entry of its own."""

from __future__ import annotations

import datetime as dt

from django.db import transaction

from classroom.models import Erasure, ErasureCorrection, User, record
from classroom.refusals import Refused, a_reason
from classroom.wording.typed_lines import tidy

from .names import may_erase


@transaction.atomic
def correct_erasure(
    erasure: Erasure, *, asked_by: str, asked_on: dt.date, reason: str, acting: User
) -> ErasureCorrection | None:
    """None where it stands so already. Raises Refused for anybody but who keeps the school,
    without a reason, and for an erasure that nobody asked for."""
    may_erase(erasure.student.school, acting)
    if not erasure.is_on_request:
        raise Refused("Nobody asked for this erasure: the years were over.")
    why = a_reason(tidy(reason), most=200)
    Erasure.objects.select_for_update().get(pk=erasure.pk)
    if request_of(erasure) == (asked_by, asked_on):
        return None
    made = ErasureCorrection.objects.create(
        erasure=erasure, asked_by=asked_by, asked_on=asked_on, reason=why, done_by=acting
    )
    words = f"corrected who asked for the erasure of {erasure.student}, or when"
    record(acting, "correct-erasure", erasure.student, words, school=erasure.student.school)
    return made


def request_of(erasure: Erasure) -> tuple[str, dt.date | None]:
    """Who asked, and on which day, as it is known now."""
    newest = erasure.corrections.first()
    return (newest or erasure).asked_by, (newest or erasure).asked_on
