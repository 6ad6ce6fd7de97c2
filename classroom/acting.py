"""A form is sent, a step does what it says, and the person goes on: the way of most views.

def act() -> Done:
    made = add_topic(form.wording(), acting=request.user)
    return Done(f"“{made}” is a topic now.", redirect("topic", made.pk))

if done := acted(request, form, act, on="title"):
    return done
return render(...)    # the form, with what is to be mended
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from django.contrib import messages
from django.forms.forms import BaseForm
from django.http import HttpRequest, HttpResponse

from .refusals import said_on


class Done(NamedTuple):
    """What is said of it ("" says nothing), and where the person goes on."""

    said: str
    then: HttpResponse


def acted(
    request: HttpRequest, form: BaseForm, act: Callable[[], Done], *, on: str | None = None
) -> HttpResponse | None:
    """Do it where the form was sent and is right; None where the form is to be shown.

    What a rule refuses is said on the form (on the field `on`, else at its head), with all that
    was typed still in it; `act` undoes what it has begun, by a transaction. Raises Busy, which is
    answered further out.
    """
    if request.method != "POST" or not form.is_valid():
        return None
    with said_on(form, on):
        done = act()
        if done.said:
            messages.success(request, done.said)
        return done.then
    return None
