"""Practice tries that a person may see: their own, nobody else's."""

from __future__ import annotations

from django.db.models import QuerySet

from classroom.models import User
from studio.models import PracticeTry


def practice_tries_for(user: User) -> QuerySet[PracticeTry]:
    """One's own alone, for teachers too: nobody looks on while somebody practises."""
    return PracticeTry.objects.filter(person=user)


def practice_try_for(user: User, sheet: str) -> PracticeTry:
    """One's own try at this sheet; a fresh one, not stored, where nothing was laid yet."""
    found = practice_tries_for(user).filter(sheet=sheet).first()
    return found or PracticeTry(person=user, sheet=sheet)
