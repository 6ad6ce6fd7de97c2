"""Substances: cautions where they matter, and the school's own data sheets as plain PDF files."""

from __future__ import annotations

import io
from typing import Any

import pytest
from django.core.files.storage import storages
from django.core.files.uploadedfile import SimpleUploadedFile
from django.template import Context, Template
from django.test import Client
from django.urls import reverse
from pypdf import PdfWriter

from classroom.languages import LANGUAGES
from classroom.models import Substance, Topic, WaitingFile
from classroom.safety.data_sheets import BYTES_MOST, PAGES_MOST
from classroom.safety.substances import shown_with
from classroom.safety.topic_texts.substances import SUBSTANCES
from classroom.safety.topics import seed_topics
from tests.people import Cast


def pdf(pages: int = 1, *, secret: str = "") -> bytes:
    writer = PdfWriter()
    for _ in range(pages):
        writer.add_blank_page(200, 200)
    if secret:
        writer.encrypt(secret, algorithm="RC4-128")
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


@pytest.fixture
def acetone(cast: Cast) -> Substance:
    seed_topics(cast.school)
    return Substance.objects.get(school=cast.school, title="Acetone")


def said(one: Substance, **more: Any) -> dict[str, Any]:
    return {
        "title": one.title,
        "cautions": "\n".join(one.cautions),
        "topics": [topic.pk for topic in one.topics.all()],
        "version": one.version,
        "title_es": one.translations["es"]["title"],
        "cautions_es": "\n".join(one.translations["es"]["cautions"]),
    } | more


def upload(desk: Client, one: Substance, data: bytes, name: str = "sheet.pdf", **more: Any) -> str:
    file = SimpleUploadedFile(name, data, content_type="application/pdf")
    one.refresh_from_db()
    form = said(one, sheet=file, **more)
    answer = desk.post(reverse("substance_edit", args=[one.pk]), form, follow=True)
    one.refresh_from_db()
    return answer.content.decode()


def test_every_substance_stands_in_every_language() -> None:
    for _codes, words in SUBSTANCES:
        assert set(words) == set(LANGUAGES)
        assert len({len(text.cautions) for text in words.values()}) == 1


def test_cautions_stand_on_the_page_of_their_topic_and_on_no_other(
    cast: Cast, acetone: Substance, client: Client
) -> None:
    client.force_login(cast.owner)
    topic = Topic.objects.get(school=cast.school, code="adhesives-solvents")
    page = client.get(reverse("topic", args=[topic.pk])).content.decode()
    assert acetone.cautions[0] in page
    assert "No safety data sheet here yet" in page
    other = Topic.objects.get(school=cast.school, code="saw-frame")
    assert acetone.cautions[0] not in client.get(reverse("topic", args=[other.pk])).content.decode()


def test_cautions_come_in_spanish_and_fall_back_to_what_there_is(
    cast: Cast, acetone: Substance
) -> None:
    (words,) = [
        one for one in shown_with(cast.school, ["adhesives-solvents"], "es")
        if one.substance == acetone
    ]  # fmt: skip
    assert (words.title, words.language) == ("Acetona", "es")
    acetone.translations = {}
    acetone.save()
    titles = [one.title for one in shown_with(cast.school, ["adhesives-solvents"], "es")]
    assert "Acetone" in titles


def test_all_cautions_of_a_step_take_one_query(
    cast: Cast, acetone: Substance, django_assert_num_queries: Any
) -> None:
    with django_assert_num_queries(1):
        assert len(shown_with(cast.school, ["adhesives-solvents", "saw-frame"], "en")) == 3


def test_a_data_sheet_is_kept_and_comes_back_as_a_file(
    cast: Cast, acetone: Substance, desk: Client
) -> None:
    data = pdf(3)
    assert "is saved" in upload(desk, acetone, data, "../../Our <sheet>.PDF")
    assert acetone.sheet_name == "Our <sheet>.pdf"
    desk.force_login(cast.owner)
    answer = desk.get(reverse("substance_sheet", args=[acetone.pk]))
    assert answer.content == data
    assert answer.headers["Content-Type"] == "application/pdf"
    assert answer.headers["Content-Disposition"] == (
        'attachment; filename="acetone-safety-data-sheet.pdf"'
    )
    assert answer.headers["X-Content-Type-Options"] == "nosniff"


def test_a_new_sheet_leaves_the_old_file_in_the_storage(
    cast: Cast, acetone: Substance, desk: Client
) -> None:
    upload(desk, acetone, pdf(1))
    first = acetone.sheet_sha
    upload(desk, acetone, pdf(2))
    assert acetone.sheet_sha != first
    assert storages["evidence"].exists(f"safety-sheets/{cast.school.pk}/{first}.pdf")


def test_without_a_sheet_there_is_nothing_to_fetch(acetone: Substance, desk: Client) -> None:
    assert desk.get(reverse("substance_sheet", args=[acetone.pk])).status_code == 404


@pytest.mark.parametrize(
    ("data", "why"),
    [
        (b"<html>%PDF-1.7", "no whole PDF"),
        (b"MZ\x90\x00", "no whole PDF"),
        (pdf()[:-100], "no whole PDF"),
        (b"%PDF-1.7\n%%EOF", "cannot be read"),
        (b"%PDF-1.7 " + b"\xff" * 3000 + b"%%EOF", "cannot be read"),
        (pdf().replace(b"/Catalog", b"/Catalog /OpenAction << /S /JavaScript >>"), "runs scripts"),
        (pdf(secret="locked"), "locked by a password"),
        (pdf(PAGES_MOST + 1), f"has 1 to {PAGES_MOST} pages"),
        (b"%PDF-1.7 " + b" " * BYTES_MOST, "larger than 5 MB"),
    ],
    ids=["html", "program", "cut off", "empty", "junk", "script", "locked", "long", "large"],
)
def test_a_file_that_is_no_plain_pdf_is_refused_and_nothing_is_kept(
    acetone: Substance, desk: Client, data: bytes, why: str
) -> None:
    assert why in upload(desk, acetone, data)
    assert (acetone.sheet_sha, acetone.version) == ("", 1)


@pytest.mark.parametrize(
    ("wrong", "why"),
    [
        ({"sheet_link": "http://maker.example/sheet"}, "begins with https"),
        ({"sheet_link": "javascript:alert(1)"}, "valid URL"),
        ({"title": "Water-based adhesive"}, "of that name already"),
        ({"title": "?"}, "letter or digit"),
        ({"cautions": ""}, "required"),
        ({"cautions": "\n".join("abcdefghijklm")}, "At most 12"),
        ({"title_es": ""}, "or neither"),
        ({"version": 9}, "Somebody else"),
    ],
)
def test_a_substance_that_cannot_be_is_not_saved(
    acetone: Substance, desk: Client, wrong: dict[str, Any], why: str
) -> None:
    url = reverse("substance_edit", args=[acetone.pk])
    assert why in desk.post(url, said(acetone, **wrong)).content.decode()
    acetone.refresh_from_db()
    assert acetone.version == 1


def test_a_teacher_adds_a_substance_with_a_link(
    cast: Cast, acetone: Substance, desk: Client
) -> None:
    form = {
        "title": "Beeswax <b>",
        "cautions": "Keep it off the floor.",
        "topics": [Topic.objects.get(school=cast.school, code="saw-frame").pk],
        "sheet_link": "https://maker.example/wax.pdf",
    }
    page = desk.post(reverse("substance_new"), form, follow=True).content.decode()
    assert "Beeswax &lt;b&gt;" in page
    assert "https://maker.example/wax.pdf" in page


def test_topics_of_another_school_cannot_be_ticked(
    cast: Cast, acetone: Substance, desk: Client
) -> None:
    seed_topics(cast.outsider.school)
    foreign = Topic.objects.filter(school=cast.outsider.school)[0]
    url = reverse("substance_edit", args=[acetone.pk])
    page = desk.post(url, said(acetone, topics=[foreign.pk])).content.decode()
    assert "not one of the available" in page


def test_a_substance_set_aside_is_shown_nowhere_and_can_come_back(
    cast: Cast, acetone: Substance, desk: Client
) -> None:
    url = reverse("substance_set_aside", args=[acetone.pk])
    desk.post(url)
    assert "Acetone" not in {
        one.title for one in shown_with(cast.school, ["adhesives-solvents"], "en")
    }
    assert "1 out of use" in desk.get(reverse("substances")).content.decode()
    desk.post(url, {"aside": "no"})
    acetone.refresh_from_db()
    assert acetone.retired_at is None


def test_the_bench_shows_the_cautions_of_the_steps_permits(cast: Cast, acetone: Substance) -> None:
    page = Template("{% load substances %}{% substance_notes school codes %}")

    def shown_for(*codes: str) -> str:
        return page.render(Context({"school": cast.school, "codes": codes}))

    assert acetone.cautions[0] in shown_for("adhesives-solvents", "saw-frame")
    assert shown_for("saw-frame").strip() == ""


def test_a_good_sheet_is_kept_while_another_field_is_put_right(
    acetone: Substance, desk: Client
) -> None:
    page = upload(desk, acetone, pdf(), "acetone.pdf", title="")
    kept = WaitingFile.objects.get()
    assert "<strong>acetone.pdf</strong> is kept" in page
    assert not acetone.sheet_sha
    again = said(acetone, kept=kept.token)
    assert desk.post(reverse("substance_edit", args=[acetone.pk]), again).status_code == 302
    acetone.refresh_from_db()
    assert acetone.sheet_name == "acetone.pdf"
    assert not WaitingFile.objects.exists()


def test_a_sheet_that_is_none_is_not_kept(acetone: Substance, desk: Client) -> None:
    page = upload(desk, acetone, b"no pdf", title="")
    assert "no whole PDF file" in page
    assert not WaitingFile.objects.exists()
