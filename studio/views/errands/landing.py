"""From a form to an errand and back: what was typed comes along, what came of it is shown there.

A view that hands slow work to a worker shows the outcome in one function, whether the errand was
over at once or the person comes from the waiting page (`?errand=`): `brought` is the whole way of
a form with a file, `handed_on` its step from the form to the worker.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from typing import TypeVar

from django.core.validators import slug_re
from django.db.models import Model
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect

from classroom.models import subject_of
from classroom.permissions import Visit
from classroom.refusals import Refused
from studio.core.reading import Upload
from studio.forms.kept_file import KeptFileForm
from studio.models import Errand
from studio.queries.errands import errand_ended
from studio.running.errands.lease import note_seen
from studio.running.errands.starting import NewErrand, start, wait_a_moment

from .brought_file import answered, file_of, keep

LONGEST_VALUE = 2000

SentForm = TypeVar("SentForm", bound=KeptFileForm)


def brought(
    request: Visit,
    kind: str,
    about: Model,
    *,
    form: Callable[[], SentForm],
    bring: Callable[[SentForm], Errand | None],
    page: Callable[[SentForm], HttpResponse],
    came_of_it: Callable[[Errand], HttpResponse],
) -> HttpResponse:
    """The form's page, the waiting page, or what came of the errand about `about`.

    `bring` has what reads the form's file, None when the form is shown again.
    """
    errand = landed(request, kind, about)
    if errand is None:
        sent = form()
        errand = bring(sent) if request.method == "POST" else None
        if errand is None:
            return answered(sent, page(sent))
    return to_the_waiting_page(errand) if errand.is_open else came_of_it(errand)


def handed_on(
    request: Visit,
    about: Model,
    form: KeptFileForm,
    look: Callable[[Upload], object],
    wanted: Callable[[Upload], NewErrand],
) -> Errand | None:
    """What reads it; None when the form is shown again, its good file kept for some hours.

    What the first bytes tell (`look`, as `file_of`) is said at once; only reading is a worker's.
    """
    valid = form.is_valid()
    upload = file_of(form, look)
    if upload is None:
        return None
    try:
        if valid:
            return begun(request, wanted(upload))
    except Refused as refusal:
        form.refuse(refusal)
    keep(request, about, form, upload)
    return None


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
