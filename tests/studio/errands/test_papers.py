"""A short paper is printed at once; a long one is made by a worker while its person waits."""

from __future__ import annotations

import io
import threading
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from classroom.models import User
from classroom.papers import printing
from classroom.refusals import Refused
from classroom.signin.passphrases import mark_of
from studio.models import Errand
from studio.running.errands import papers
from tests.people import PASSPHRASE, Cast
from tests.studio.patterns.making import words

from .making import follow, newest, work

pytestmark = pytest.mark.usefixtures("pango")


@pytest.fixture
def long_paper(cast: Cast) -> str:
    return reverse("class_safety_checklist", args=[cast.course.pk])


@pytest.fixture
def press_at_work(monkeypatch: pytest.MonkeyPatch) -> None:
    """Somebody else's paper is being made in this process at this very moment."""
    taken = threading.BoundedSemaphore(1)
    taken.acquire()
    monkeypatch.setattr(printing, "_PRESS", taken)


@pytest.mark.usefixtures("no_reading")
def test_a_long_paper_is_not_made_by_the_request_that_asks_for_it(
    desk: Client, long_paper: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(printing, "make_pdf", lambda *_: pytest.fail("made in the web process"))
    answer = desk.get(long_paper, {"as": "pdf"})
    assert answer.url == reverse("errand", args=[newest().token])
    assert "Your paper is being made" in words(follow(desk))


def test_the_paper_opens_when_it_is_made_and_again_later(desk: Client, long_paper: str) -> None:
    desk.get(long_paper, {"as": "pdf", "lang": "en"})
    work()
    for _ in range(2):
        answer = follow(desk)
        assert answer.redirect_chain[-1][0] == reverse("errand_paper", args=[newest().token])
        assert answer.content.startswith(b"%PDF-")
        assert answer["Content-Type"] == "application/pdf"
        assert answer["Cache-Control"] == "private, no-store"
        assert "safety-" in answer["Content-Disposition"]


def test_asking_again_for_the_same_paper_waits_for_the_one_that_is_under_way(
    desk: Client, long_paper: str
) -> None:
    first = desk.get(long_paper, {"as": "pdf"}).url
    assert desk.get(long_paper, {"as": "pdf"}).url == first
    assert Errand.objects.count() == 1


def test_a_paper_beyond_the_bounds_is_refused_as_busy(cast: Cast, desk: Client) -> None:
    for lang in ("en", "es"):
        for name in ("class_safety_checklist", "class_preparation_checklist"):
            address = reverse(name, args=[cast.course.pk])
            answer = desk.get(address, {"as": "pdf", "lang": lang})
    assert answer.status_code == 503
    assert int(answer["Retry-After"]) > 0
    assert Errand.objects.count() == 3


def test_a_short_paper_is_there_at_once(desk: Client) -> None:
    answer = desk.get(reverse("capture_frame"), {"as": "pdf"})
    assert answer.content.startswith(b"%PDF-")
    assert not Errand.objects.exists()


@pytest.mark.usefixtures("press_at_work", "no_reading")
def test_a_short_paper_queues_where_another_is_being_made(desk: Client) -> None:
    answer = desk.get(reverse("capture_frame"), {"as": "pdf"})
    assert answer.url == reverse("errand", args=[newest().token])


def test_a_paper_that_cannot_be_made_says_why(
    desk: Client, long_paper: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    from studio.core.confining import Stopped

    def stopped(*_: Any, **__: Any) -> bytes:
        raise Stopped("time")

    monkeypatch.setattr(papers, "confined", stopped)
    desk.get(long_paper, {"as": "pdf"})
    work()
    page = words(follow(desk))
    assert "Print it from the browser instead" in page
    assert f'href="{long_paper}"' in page


def test_cards_are_never_put_down_on_a_disk(cast: Cast, desk: Client, store: Path) -> None:
    address = reverse("sign_in_cards", args=[cast.course.pk])
    sent = {"card": [f"{cast.owner.pk}-{mark_of(cast.owner)}"], "as": "pdf"}
    answer = desk.post(address, sent)
    assert answer.content.startswith(b"%PDF-")
    assert not Errand.objects.exists()
    assert not list(store.rglob("*"))


@pytest.mark.usefixtures("press_at_work")
def test_cards_that_must_wait_are_not_issued(cast: Cast, desk: Client) -> None:
    address = reverse("sign_in_cards", args=[cast.course.pk])
    sent = {"card": [f"{cast.owner.pk}-{mark_of(cast.owner)}"], "as": "pdf"}
    answer = desk.post(address, sent)
    assert answer.status_code == 503
    assert "Try in a moment" in words(answer)
    assert User.objects.get(pk=cast.owner.pk).check_password(PASSPHRASE)


@pytest.mark.usefixtures("own_process")
def test_the_process_of_its_own_makes_the_same_kind_of_paper() -> None:
    pdf = papers.pdf_apart("<html lang='en'><title>One</title><body><p>one</p></body></html>", "a4")
    assert "/StructTreeRoot" in PdfReader(io.BytesIO(pdf)).root_object  # tagged, as PDF/UA wants


@pytest.mark.usefixtures("own_process")
def test_the_process_of_its_own_fetches_nothing() -> None:
    page = "<html lang='en'><title>a</title><body><img src='file:///etc/hostname'></body></html>"
    with pytest.raises(Refused, match="was stopped"):
        papers.pdf_apart(page, "a4")
