"""A page that finds the database away says so in words, and asks the database nothing more."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import InterfaceError, OperationalError
from django.test import Client

from tests.people import Cast


def away(error: Exception) -> Any:
    def page(*_: Any, **__: Any) -> Any:
        raise error

    return page


@pytest.mark.parametrize("error", [OperationalError("database is locked"), InterfaceError("gone")])
def test_a_page_without_its_database_says_that_nothing_was_saved(
    error: Exception, cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("studio.views.today.first_page.teachers_day", away(error))
    client = Client(raise_request_exception=False)
    client.force_login(cast.teacher, backend="classroom.signin.PassphraseBackend")
    answer = client.get("/")
    assert answer.status_code == 503
    assert answer["Retry-After"]
    assert "Nothing was saved" in answer.content.decode()


def test_a_fault_of_ours_is_not_put_down_to_the_database(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("studio.views.today.first_page.teachers_day", away(KeyError("x")))
    client = Client(raise_request_exception=False)
    client.force_login(cast.teacher, backend="classroom.signin.PassphraseBackend")
    assert client.get("/").status_code == 500
