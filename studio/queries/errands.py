"""Errands that a person waits for; nobody else has to know of them."""

from __future__ import annotations

from django.shortcuts import get_object_or_404

from classroom.models import User
from studio.models import Errand
from studio.models.errand import ErrandQuerySet

MOST_ERRANDS_SHOWN = 5


def errands_for(user: User) -> ErrandQuerySet:
    """A person's own errands; nobody else has to know of them, teachers included."""
    return Errand.objects.filter(owner=user)


def errand_for(user: User, token: str) -> Errand:
    return get_object_or_404(errands_for(user), token=token)


def errands_before(errand: Errand) -> int:
    """How many are done before it: everybody's, and those that are being done now."""
    return Errand.objects.before(errand).count()


def errand_ended(user: User, token: str, kind: str, about: str) -> Errand | None:
    """The person's own errand of that kind about that very thing, if it came to its end."""
    ended = errands_for(user).filter(state__in=[Errand.State.DONE, Errand.State.FAILED])
    return ended.filter(token=token, kind=kind, about=about).first()


def print_alike(user: User, about: str) -> Errand | None:
    """The person's errand that will draw up the very same paper.

    One that is under way was drawn up already, perhaps before something changed.
    """
    waiting = errands_for(user).filter(state=Errand.State.QUEUED)
    return waiting.filter(kind=Errand.Kind.PRINT, about=about).first()


def errands_to_show(user: User) -> list[Errand]:
    """What the person waits for, and what has come without being looked at; the newest first."""
    return list(errands_for(user).not_seen().order_by("-pk")[:MOST_ERRANDS_SHOWN])
