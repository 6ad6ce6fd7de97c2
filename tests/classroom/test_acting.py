"""Form, step, message, redirect: what every view that acts does in the same way."""

from __future__ import annotations

import pytest
from django import forms
from django.contrib.messages import get_messages
from django.contrib.messages.storage.cookie import CookieStorage
from django.test import RequestFactory

from classroom.acting import done, said_on
from classroom.refusals import Busy, Refused


class NameForm(forms.Form):
    name = forms.CharField()


def test_what_was_done_is_said_and_one_goes_on() -> None:
    request = RequestFactory().post("/")
    request._messages = CookieStorage(request)  # type: ignore[attr-defined]
    answer = done(request, "It is done.", "/rack/")
    assert answer.status_code == 302
    assert answer["Location"] == "/rack/"
    assert [str(one) for one in get_messages(request)] == ["It is done."]


@pytest.mark.parametrize("field", [None, "name"])
def test_a_refusal_stands_on_the_form_with_what_was_typed(field: str | None) -> None:
    form = NameForm({"name": "Wren"})
    assert form.is_valid()
    with said_on(form, field):
        raise Refused("Not today.")
    assert form.errors == {field or "__all__": ["Not today."]}
    assert form["name"].value() == "Wren"


def test_too_much_at_this_moment_is_answered_further_out() -> None:
    with pytest.raises(Busy), said_on(NameForm({})):
        raise Busy("Try in a moment.")
