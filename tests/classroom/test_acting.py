"""Form, step, message, redirect: what every view that acts does in the same way."""

from __future__ import annotations

import pytest
from django import forms
from django.contrib.messages import get_messages
from django.contrib.messages.storage.cookie import CookieStorage
from django.http import HttpRequest, HttpResponse
from django.test import RequestFactory

from classroom.acting import Done, acted
from classroom.refusals import Busy, Refused


class NameForm(forms.Form):
    name = forms.CharField()


def sent(**typed: str) -> tuple[HttpRequest, NameForm]:
    request = RequestFactory().post("/", typed)
    request._messages = CookieStorage(request)  # type: ignore[attr-defined]
    return request, NameForm(request.POST)


def done() -> Done:
    return Done("It is done.", HttpResponse("on"))


def test_what_is_right_is_done_and_said() -> None:
    request, form = sent(name="Wren")
    answer = acted(request, form, done)
    assert answer is not None
    assert answer.content == b"on"
    assert [str(one) for one in get_messages(request)] == ["It is done."]


def test_what_is_wrong_is_not_done() -> None:
    def never() -> Done:
        raise AssertionError

    assert acted(*sent(), never) is None
    assert acted(RequestFactory().get("/"), NameForm({"name": "Wren"}), never) is None


@pytest.mark.parametrize("on", [None, "name"])
def test_a_refusal_stands_on_the_form_and_nothing_is_said(on: str | None) -> None:
    def refuse() -> Done:
        raise Refused("Not today.")

    request, form = sent(name="Wren")
    assert acted(request, form, refuse, on=on) is None
    assert form.errors == {on or "__all__": ["Not today."]}
    assert list(get_messages(request)) == []


def test_too_much_at_this_moment_is_answered_further_out() -> None:
    def busy() -> Done:
        raise Busy("Try in a moment.")

    with pytest.raises(Busy):
        acted(*sent(name="Wren"), busy)
