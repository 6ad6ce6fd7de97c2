"""A student waits for a file to be read, without touching the page; Back leads to the form."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from studio.models import Errand, Pattern
from studio.running.errands import lease, starting
from studio.running.errands.doing import run
from tests.browser.barriers import no_barriers
from tests.people import Cast, make_cast
from tests.studio.patterns.making import DISC, make_project

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def nobody_works(settings: Any, monkeypatch: pytest.MonkeyPatch) -> Cast:
    """No worker runs: the test itself plays one, step by step. Somebody waits already."""
    settings.ERRANDS_AT_ONCE = False
    settings.ERRAND_MOMENT_SECONDS = 0.0
    queue = type("Queue", (), {"enqueue": lambda *sent: None})()
    monkeypatch.setattr(starting, "do_errand", queue)
    cast = make_cast()
    Errand.objects.create(owner=cast.teacher, kind=Errand.Kind.PRINT, title="a", back="/")
    return cast


def test_the_page_shows_the_place_and_goes_on_to_the_pattern(
    visitor: Any, nobody_works: Cast, tmp_path: Path
) -> None:
    cast = nobody_works
    project = make_project(cast)
    file = tmp_path / "fish.svg"
    file.write_bytes(DISC)
    page = visitor.come_in(cast.owner.username)
    upload = reverse("pattern_upload", args=[project.pk])
    visitor.go(reverse("project", args=[project.pk]))
    visitor.go(upload)
    page.get_by_label("Choose your pattern").set_input_files(file)
    page.get_by_role("button", name="Read the pattern").click()
    expect(page.get_by_text("1 before you")).to_be_visible()
    visitor.look("waiting-1-queued")
    no_barriers(visitor)
    address = page.url

    visitor.go("/")
    expect(page.get_by_role("link", name="fish.svg")).to_be_visible()
    visitor.look("waiting-2-found-again")
    page.get_by_role("link", name="fish.svg").click()
    page.wait_for_url(address)

    first, own = Errand.objects.order_by("pk")
    lease.claim(first.pk, "desk/0")
    Errand.objects.filter(pk=first.pk).update(state=Errand.State.DONE)
    expect(page.get_by_text("You are next")).to_be_visible(timeout=20_000)
    lease.claim(own.pk, "desk/1")
    expect(page.get_by_text("It is your turn")).to_be_visible(timeout=20_000)
    lease.queue_again(Errand.objects.get(pk=own.pk))
    assert run(own.pk, "desk/2")
    expect(page.get_by_text("there is no finding")).to_be_visible(timeout=20_000)
    assert page.url.endswith(reverse("pattern", args=[Pattern.objects.get().pk]))
    visitor.look("waiting-3-read")

    page.go_back()
    page.wait_for_load_state()
    assert "/waiting/" not in page.url  # no circle: the waiting page was left for good


def test_it_can_be_called_off_and_speaks_spanish(visitor: Any, nobody_works: Cast) -> None:
    cast = nobody_works
    errand = Errand.objects.create(
        owner=cast.owner, kind=Errand.Kind.PRINT, title="preparation", back="/"
    )
    page = visitor.come_in(cast.owner.username)
    visitor.go(f"{reverse('errand', args=[errand.token])}?lang=es")
    expect(page.get_by_text("1 antes que tú")).to_be_visible()
    visitor.look("waiting-4-spanish")
    page.get_by_role("button", name="Anularlo").click()
    expect(page.get_by_text("Anulado.")).to_be_visible()
    errand.refresh_from_db()
    assert errand.state == Errand.State.OFF
