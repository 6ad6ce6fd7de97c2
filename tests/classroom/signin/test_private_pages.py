"""What a browser may keep of a page: nothing, and at sign-out it is told to forget the rest."""

from __future__ import annotations

from pathlib import Path

import pytest
from django.conf import LazySettings
from django.http import HttpResponse
from django.test import Client, RequestFactory
from django.urls import reverse

from classroom.signin.private_pages import PrivatePagesMiddleware
from tests.people import Cast

OWN = "classroom.signin.PassphraseBackend"


@pytest.mark.parametrize("name", ["first_page", "course_list", "own_account", "topics"])
def test_a_page_of_somebody_signed_in_is_kept_nowhere(
    cast: Cast, client: Client, name: str
) -> None:
    client.force_login(cast.teacher, backend=OWN)
    answer = client.get(reverse(name))
    assert answer.status_code == 200
    assert answer.headers["Cache-Control"] == "private, no-store"


def test_the_door_itself_and_refusals_are_kept_nowhere_either(cast: Cast, client: Client) -> None:
    for path in ("/sign-in/", "/courses/", "/nowhere/"):
        assert "no-store" in client.get(path).headers["Cache-Control"], path


@pytest.mark.parametrize(
    ("own", "sent"),
    [
        ("", "private, no-store"),
        ("private, max-age=86400", "private, no-store"),
        ("public, max-age=60", "private, no-store"),
        ("max-age=0, no-cache, no-store, must-revalidate, private",) * 2,
    ],
)
def test_a_view_may_be_stricter_and_never_laxer(own: str, sent: str) -> None:
    def view(request: object) -> HttpResponse:
        return HttpResponse(headers={"Cache-Control": own} if own else {})

    answer = PrivatePagesMiddleware(view)(RequestFactory().get("/"))
    assert answer.headers["Cache-Control"] == sent


def test_signing_out_over_tls_empties_the_browsers_store(cast: Cast, client: Client) -> None:
    client.force_login(cast.teacher, backend=OWN)
    answer = client.post(reverse("sign_out"), secure=True)
    assert answer.headers["Clear-Site-Data"] == '"cache"'


def test_without_tls_nothing_is_said_that_a_browser_would_complain_of(
    cast: Cast, client: Client
) -> None:
    client.force_login(cast.teacher, backend=OWN)
    assert "Clear-Site-Data" not in client.post(reverse("sign_out")).headers


def test_a_device_that_becomes_a_bench_tablet_forgets_the_teachers_pages(
    cast: Cast, client: Client
) -> None:
    client.force_login(cast.teacher, backend=OWN)
    answer = client.post(reverse("tablet_open", args=[cast.course.pk]), secure=True)
    assert answer.headers["Clear-Site-Data"] == '"cache"'


def test_a_static_file_keeps_its_own_header(
    cast: Cast, client: Client, settings: LazySettings, tmp_path: Path
) -> None:
    # A folder of its own: what other tests have collected, or not, is nothing to this one.
    settings.STATIC_ROOT = tmp_path
    (tmp_path / "plain.css").write_text("a { color: inherit }")
    answer = client.get("/static/plain.css")
    assert answer.status_code == 200
    assert "no-store" not in answer.headers.get("Cache-Control", "")
    answer.close()  # the file itself
