"""The page where a student brings a pattern: every bad file gets words that help."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from classroom.models import School
from studio.models import Pattern, Project
from tests.people import Cast, signed_in
from tests.studio.patterns.making import (
    BAR,
    DISC,
    THIN,
    bring,
    fresh,
    handed_in,
    make_brief,
    make_metal,
    make_project,
    svg,
    upload,
    words,
)


def address(project: Project) -> str:
    return reverse("pattern_upload", args=[project.pk])


def metal_key(project: Project) -> str:
    return str(project.brief.metals.get().pk)


def test_a_good_file_leads_to_its_pattern(cast: Cast, project: Project) -> None:
    client = signed_in(cast.owner)
    answer = client.post(
        address(project), upload(DISC, metal=metal_key(project), copies="2"), follow=True
    )
    pattern = Pattern.objects.get()
    assert answer.redirect_chain[-1][0] == reverse("pattern", args=[pattern.pk])
    assert "there is no finding" in words(answer)
    assert pattern.copies == 2


def test_the_only_metal_is_chosen_already(cast: Cast, project: Project) -> None:
    page = words(signed_in(cast.owner).get(address(project)))
    assert f'<option value="{metal_key(project)}" selected>' in page
    assert "Choose a metal" not in page


def test_with_several_metals_one_must_be_chosen(cast: Cast) -> None:
    brief = make_brief(cast, make_metal(cast), make_metal(cast, "C26000", "0.800"))
    project = make_project(cast, brief)
    answer = signed_in(cast.owner).post(address(project), upload(DISC, metal=""))
    assert answer.status_code == 200
    assert Pattern.objects.count() == 0


@pytest.mark.parametrize(
    ("data", "name", "said"),
    [
        (b"", "fish.svg", "empty"),
        (b"\x89PNG\r\n\x1a\n" + b"\0" * 99, "fish.png", "begins like a picture"),
        (b"%PDF-1.7 and more", "fish.svg", "PDF document"),
        (b"PK\x03\x04rest", "fish.svg", "ZIP archive"),
        (b"no drawing at all", "fish.svg", "not known here"),
        (b"<svg", "fish.svg", "not a complete SVG file"),
        (svg(""), "fish.svg", "no line"),
        (b"<" * 5_100_000, "fish.svg", "larger than 5 MB"),
    ],
)
def test_a_file_that_cannot_be_read_keeps_what_was_typed(
    cast: Cast, project: Project, data: bytes, name: str, said: str
) -> None:
    typed = upload(data, name, metal=metal_key(project), copies="7", width_mm="33 mm")
    answer = signed_in(cast.owner).post(address(project), typed)
    page = words(answer)
    assert answer.status_code == 200
    assert said.lower() in page.lower()
    assert 'value="7"' in page
    assert 'value="33 mm"' in page
    assert Pattern.objects.count() == 0


def test_fifty_megabytes_are_refused_in_words(cast: Cast, project: Project) -> None:
    typed = upload(bytes(50_000_000), metal=metal_key(project))
    answer = signed_in(cast.owner).post(address(project), typed)
    assert "larger than 15 MB" in words(answer)
    assert Pattern.objects.count() == 0


def test_a_scan_becomes_a_pattern_by_the_resolution_that_was_typed(
    cast: Cast, project: Project
) -> None:
    page = np.full((480, 480), 245, np.uint8)
    cv2.circle(page, (240, 240), 177, 20, 6, cv2.LINE_AA)
    cv2.circle(page, (240, 240), 60, 20, -1, cv2.LINE_AA)
    scan = cv2.imencode(".png", page)[1].tobytes()
    sent = upload(scan, "disc.png", metal=metal_key(project))
    answer = signed_in(cast.owner).post(address(project), sent, follow=True)
    assert "does not say how large" in words(answer)
    assert Pattern.objects.count() == 0
    sent = upload(scan, "disc.png", metal=metal_key(project), dpi="300")
    answer = signed_in(cast.owner).post(address(project), sent)
    assert answer.status_code == 302
    (piece,) = Pattern.objects.get().drawing.pieces
    assert piece.size_mm[0] == pytest.approx(2 * 177 * 25.4 / 300, abs=0.1)
    assert len(piece.outline.interiors) == 1


def test_no_file_at_all_is_answered(cast: Cast, project: Project) -> None:
    answer = signed_in(cast.owner).post(
        address(project), {"copies": "1", "metal": metal_key(project)}
    )
    assert "Choose the file with your pattern." in words(answer)


@pytest.mark.parametrize("copies", ["0", "13", "-1", "1e9", "many", ""])
def test_a_number_of_pieces_out_of_bounds_is_refused(
    cast: Cast, project: Project, copies: str
) -> None:
    typed = upload(DISC, metal=metal_key(project), copies=copies)
    answer = signed_in(cast.owner).post(address(project), typed)
    assert answer.status_code == 200
    assert Pattern.objects.count() == 0


@pytest.mark.parametrize("width", ["-3", "NaN", "1e400", "0", "a hand", "9000 mm", "1,000"])
def test_a_width_that_is_no_length_is_refused(cast: Cast, project: Project, width: str) -> None:
    typed = upload(DISC, metal=metal_key(project), width_mm=width)
    answer = signed_in(cast.owner).post(address(project), typed)
    assert answer.status_code == 200
    assert Pattern.objects.count() == 0


def test_a_bare_width_is_in_the_schools_units(cast: Cast, project: Project) -> None:
    School.objects.filter(pk=cast.school.pk).update(units="in")
    typed = upload(DISC, metal=metal_key(project), width_mm="1 1/2")
    signed_in(cast.owner).post(address(project), typed)
    assert float(Pattern.objects.get().width_mm or 0) == pytest.approx(38.1)


def test_a_second_press_of_the_button_makes_no_second_pattern(cast: Cast, project: Project) -> None:
    client = signed_in(cast.owner)
    for _ in range(2):
        answer = client.post(address(project), upload(DISC, metal=metal_key(project)))
        assert answer.status_code == 302
    assert Pattern.objects.count() == 1


def test_an_upload_after_handing_in_says_how_to_take_it_back(cast: Cast, project: Project) -> None:
    handed_in(project)
    answer = signed_in(cast.owner).post(address(project), upload(BAR, metal=metal_key(project)))
    assert "Take it back first" in words(answer)
    assert Pattern.objects.count() == 1


def test_an_expired_session_goes_to_the_sign_in_page_and_saves_nothing(
    cast: Cast, project: Project
) -> None:
    answer = Client().post(address(project), upload(DISC, metal=metal_key(project)))
    assert answer.status_code == 302
    assert answer.headers["Location"].startswith("/sign-in/")
    assert Pattern.objects.count() == 0


def test_a_form_without_its_token_is_refused(cast: Cast, project: Project) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(cast.owner, backend="classroom.signin.PassphraseBackend")
    assert client.post(address(project), upload(DISC)).status_code == 403


def test_the_file_is_downloaded_as_bytes_and_never_shown(cast: Cast, project: Project) -> None:
    script = svg('<script>alert(1)</script><circle cx="20" cy="20" r="15"/>')
    pattern = bring(project, script, filename='we"ird\n<name>.svg')
    for person in (cast.owner, cast.teacher):
        answer = signed_in(person).get(reverse("pattern_file", args=[pattern.pk]))
        assert answer.status_code == 200
        assert answer["Content-Type"] == "application/octet-stream"
        assert answer["Content-Disposition"].startswith("attachment;")
        assert answer["X-Content-Type-Options"] == "nosniff"
        assert b"".join(answer.streaming_content) == script  # type: ignore[attr-defined]


def test_nothing_of_the_files_markup_stands_on_the_page(cast: Cast, project: Project) -> None:
    nasty = svg(
        '<circle id="&lt;img src=x onerror=alert(1)&gt;" cx="20" cy="20" r="15"/>'
        '<script>alert(2)</script><a href="javascript:alert(3)"><circle cx="20" cy="9" r="1"/></a>'
    )
    pattern = bring(project, nasty, filename="<img src=x>.svg")
    page = signed_in(cast.owner).get(reverse("pattern", args=[pattern.pk])).content.decode()
    assert "<img src=x" not in page
    assert "alert(2)" not in page
    assert "javascript:" not in page


def test_the_stops_of_a_read_file_are_announced(cast: Cast, project: Project) -> None:
    answer = signed_in(cast.owner).post(
        address(project), upload(THIN, metal=metal_key(project)), follow=True
    )
    assert "must be mended before you hand it in" in words(answer)
    assert fresh(project).stage == Project.Stage.DRAWING


def test_a_second_file_field_is_ignored(cast: Cast, project: Project) -> None:
    typed = upload(DISC, metal=metal_key(project))
    typed["other"] = SimpleUploadedFile("x.svg", b"<svg/>")
    assert signed_in(cast.owner).post(address(project), typed).status_code == 302
