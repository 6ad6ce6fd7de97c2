"""By which names the app may be asked for: told at the start, and to whoever uses another."""

from __future__ import annotations

from typing import Any

import pytest
from django.core.management import call_command
from django.test import Client

from studio.management.commands import serve
from tests.people import Cast


@pytest.mark.parametrize(
    ("spoken", "words"), [("en", "does not go by that name"), ("es", "no responde a ese nombre")]
)
def test_another_name_is_answered_with_how_to_mend_it(
    client: Client, spoken: str, words: str
) -> None:
    answer = client.get("/sign-in/", headers={"host": "192.0.2.2", "accept-language": spoken})
    assert answer.status_code == 400
    page = answer.content.decode()
    assert words in page
    assert "BENCHLEDGER_HOSTS" in page
    assert "<main" in page


def test_a_form_that_nobody_can_read_is_answered_in_words(
    cast: Cast, client: Client, settings: Any
) -> None:
    settings.DATA_UPLOAD_MAX_NUMBER_FIELDS = 2
    answer = client.post("/sign-in/", {"a": "1", "b": "2", "c": "3"})
    assert answer.status_code == 400
    assert "could not make out" in answer.content.decode()


def told_by_serve(monkeypatch: pytest.MonkeyPatch, capsys: Any, host: str) -> str:
    monkeypatch.setattr(serve, "make_ready", lambda: None)
    monkeypatch.setattr(serve, "missing_pdf_libraries", lambda: None)
    monkeypatch.setattr(serve, "serve", lambda host, port, *, told: told(None))
    call_command("serve", host=host)
    return str(capsys.readouterr().out)


def test_serve_says_when_nobody_elsewhere_would_see_a_page(
    monkeypatch: pytest.MonkeyPatch, capsys: Any, settings: Any
) -> None:
    own = ["localhost", "127.0.0.1", "[::1]"]
    settings.ALLOWED_HOSTS = own
    assert "BENCHLEDGER_HOSTS" in told_by_serve(monkeypatch, capsys, "0.0.0.0")
    assert "BENCHLEDGER_HOSTS" not in told_by_serve(monkeypatch, capsys, "127.0.0.1")
    settings.ALLOWED_HOSTS = ["bench.example", *own]
    assert "BENCHLEDGER_HOSTS" not in told_by_serve(monkeypatch, capsys, "0.0.0.0")
