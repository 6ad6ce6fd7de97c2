"""From a form to an errand and back: what was typed comes along, what came of it is shown there.

A view that hands slow work to a worker shows the outcome in one function, whether the errand was
over at once or the person comes from the waiting page (`?errand=`).
"""

from __future__ import annotations

from collections.abc import Collection

from django.core.validators import slug_re
from django.db.models import Model
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect

from classroom.models import subject_of
from classroom.permissions import Visit
from studio.models import Errand
from studio.queries.errands import errand_ended
from studio.running.errands.lease import note_seen
from studio.running.errands.starting import NewErrand, start, wait_a_moment

LONGEST_VALUE = 2000


def begun(request: Visit, wanted: NewErrand) -> Errand:
    """The errand, over already if it was quick. Raises Busy; then nothing is kept of it."""
    return wait_a_moment(start(request.user, wanted))


def to_the_waiting_page(errand: Errand) -> HttpResponse:
    return redirect("errand", token=errand.token)


def landed(request: Visit, kind: str, about: Model) -> Errand | None:
    """The person's own errand about this very thing from which the address comes."""
    token = request.GET.get("errand", "")
    if request.method != "GET" or len(token) > 40 or not slug_re.fullmatch(token):
        return None
    return errand_ended(request.user, token, kind, subject_of(about))


def seen(errand: Errand) -> Errand:
    """Called where the outcome is shown."""
    note_seen(errand)
    return errand


def typed_for(request: Visit, names: Collection[str]) -> str:
    """What was typed into these fields, to be shown again after the errand."""
    kept = QueryDict(mutable=True)
    for name in names:
        values = [value for value in request.POST.getlist(name) if len(value) <= LONGEST_VALUE]
        if values:
            kept.setlist(name, values[:50])
    return kept.urlencode()


def typed_in(errand: Errand) -> QueryDict:
    return QueryDict(errand.asked.get("typed", ""))
