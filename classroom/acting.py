"""A form is sent, a step does what it says, and the person goes on: the way of most views.

if request.method == "POST" and form.is_valid():
    with said_on(form, "title"):    # what a rule refuses stands on the form
        made = add_topic(form.wording(), acting=request.user)
        return done(request, f"“{made}” is a topic now.", "topic", made.pk)
return render(...)    # the form, with what is to be mended
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.contrib import messages
from django.forms.forms import BaseForm
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from .refusals import Busy, Refused


@contextmanager
def said_on(form: BaseForm, field: str | None = None) -> Iterator[None]:
    """A rule's refusal inside it is said on the form, at its head or on a field.

    One returns inside it when all went well; whoever comes to the line after it was refused, and
    shows the form again. All that was typed is still in it. What was begun inside is undone by
    its own transaction; what is said with `done` comes last, so nothing is said of what was
    refused. Raises Busy, which is answered further out.
    """
    try:
        yield
    except Busy:
        raise
    except Refused as refusal:
        form.add_error(field, str(refusal))


def done(request: HttpRequest, said: str, to: str, *args: Any, **kwargs: Any) -> HttpResponse:
    """Say what was done, and go on to where `redirect` leads with the rest."""
    messages.success(request, said)
    answer: HttpResponse = redirect(to, *args, **kwargs)
    return answer
