"""Whose name was erased gets none again."""

from __future__ import annotations

from classroom.models import Erasure, User
from classroom.refusals import Refused


def refuse_when_erased(*students: User) -> None:
    """The row of a former student gets no name, no place and no card again."""
    if Erasure.objects.filter(student__in=[one.pk for one in students]).exists():
        raise Refused(
            "This student's name was erased. Whoever comes back is added to the class list anew."
        )
