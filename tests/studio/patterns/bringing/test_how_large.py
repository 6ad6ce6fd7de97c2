"""A file whose size is not known: it is kept, one question is asked, nothing is chosen twice."""

from __future__ import annotations

import datetime as dt
import math
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
import time_machine
from django.core.management import call_command
from django.test import Client
from django.urls import reverse
from django.utils import translation

from classroom.files.waiting_files import KEPT
from classroom.models import WaitingFile
from studio.core.drawing import Piece
from studio.forms.patterns.known_size import thing_choices
from studio.models import Pattern, Project
from tests.at_once import told_at_once
from tests.core.reading.dxfs import by_hand, square
from tests.people import Cast, signed_in
from tests.studio.patterns.making import DISC, handed_in, make_project, upload, words

PX = 300 / 25.4
COIN_MM = 24.26  # a United States quarter (US Mint coin specifications)


def photo(kind: str = ".png") -> bytes:
    """A square of 30 mm in ink and a grey coin, 300 dots an inch that the file does not state."""
    page = np.full((round(50 * PX), round(80 * PX)), 245, np.uint8)
    one, other = (round(5 * PX), round(10 * PX)), (round(35 * PX), round(40 * PX))
    cv2.rectangle(page, one, other, 20, 6, cv2.LINE_AA)
    cv2.circle(
        page, (round(60 * PX), round(25 * PX)), round(COIN_MM / 2 * PX), 130, -1, cv2.LINE_AA
    )
    return bytes(cv2.imencode(kind, page)[1].tobytes())


def bring(own_desk: Client, project: Project, data: bytes, name: str, **typed: str) -> Any:
    sent = upload(data, name, metal=str(project.brief.metals.get().pk), **typed)
    return own_desk.post(reverse("pattern_upload", args=[project.pk]), sent)


def marks(*points: tuple[float, float], **more: str) -> dict[str, str]:
    sent = {"way": "mark", **more}
    for number, (x, y) in enumerate(points, 1):
        sent |= {f"x{number}": f"{x * PX:.1f}", f"y{number}": f"{y * PX:.1f}"}
    return sent


def width_of(pattern: Pattern) -> float:
    (piece,) = pattern.drawing.pieces
    return piece.size_mm[0]


def _left(piece: Piece) -> float:
    return piece.outline.bounds[0]


def test_a_photo_of_unknown_size_leads_to_the_question_and_is_kept(
    own_desk: Client, project: Project
) -> None:
    answer = bring(own_desk, project, photo(), "fish.png", copies="3")
    waiting = WaitingFile.objects.get()
    assert answer.url == reverse("pattern_waiting", args=[project.pk, waiting.token])
    page = words(own_desk.get(answer.url))
    assert "does not say how large" in page
    assert "fish.png" in page
    for way in ("mark", "width", "dpi"):
        assert f'name="way" value="{way}"' in page
    assert not Pattern.objects.exists()


def test_a_marked_coin_gives_the_size_and_the_pattern_has_all_that_was_typed(
    own_desk: Client, project: Project
) -> None:
    page = bring(own_desk, project, photo(), "fish.png", copies="3").url
    answer = own_desk.post(page, marks((60, 25), (60, 25 + COIN_MM / 2), thing="us-25"))
    pattern = Pattern.objects.get()
    assert answer.url == reverse("pattern", args=[pattern.pk])
    # The test's own coin is drawn in whole dots.
    assert width_of(pattern) == pytest.approx(30.0, abs=0.15)
    assert pattern.copies == 3
    assert pattern.project.metal == project.brief.metals.get()
    assert pattern.tracing["source"]["scale_from"] == "reference"


def test_a_known_length_gives_the_size(own_desk: Client, project: Project) -> None:
    page = bring(own_desk, project, photo(), "fish.png").url
    sent = marks((5, 10), (5, 40), thing="length", length_mm="3 cm")
    assert own_desk.post(page, sent).status_code == 302
    fish = min(Pattern.objects.get().drawing.pieces, key=_left)  # the coin was not marked
    assert fish.size_mm[0] == pytest.approx(30.0, abs=0.1)


@pytest.mark.parametrize(
    ("sent", "width"),
    [({"way": "width", "width_mm": "60"}, 60.0), ({"way": "dpi", "dpi": "600"}, 15.0)],
)
def test_a_typed_width_or_resolution_is_another_way(
    own_desk: Client, project: Project, sent: dict[str, str], width: float
) -> None:
    page = np.full((700, 900), 245, np.uint8)
    cv2.rectangle(page, (100, 100), (100 + round(30 * PX), 500), 20, 6)
    file = cv2.imencode(".png", page)[1].tobytes()
    where = bring(own_desk, project, file, "fish.png").url
    assert own_desk.post(where, sent).status_code == 302
    assert width_of(Pattern.objects.get()) == pytest.approx(width, abs=0.1)


def test_who_says_so_marks_even_where_the_file_names_a_resolution(
    own_desk: Client, project: Project
) -> None:
    answer = bring(own_desk, project, photo(), "fish.png", dpi="300", mark="on")
    assert "/waiting/" in answer.url
    assert not Pattern.objects.exists()


def test_to_mark_something_in_a_drawing_makes_no_sense(own_desk: Client, project: Project) -> None:
    assert "Only in a scan or photo" in words(bring(own_desk, project, DISC, "a.svg", mark="on"))
    assert WaitingFile.objects.get().file_name == "a.svg"  # the drawing is good: it stays


@pytest.mark.parametrize(
    ("sent", "said"),
    [
        (marks(thing="us-25"), "Not everything is marked"),
        (marks((1, 1), thing="card"), "Not everything is marked"),
        (marks((1, 1), (2, 2), thing="length"), "how long it is"),
        (marks((1, 1), (1, 1), thing="us-25"), "rim of one round coin"),
        (marks((5, 10), (5, 10.1), thing="length", length_mm="50"), "too near each other"),
        (marks((1, 1), (2, 2), thing="gold-bar"), "gold-bar is not one of"),
        ({"way": "mark", "thing": "us-25", "x1": "NaN", "y1": "1"}, "A mark lies outside"),
        (marks((9e9, 1), (2, 2), thing="us-25"), "A mark lies outside"),
        ({"way": "width", "width_mm": "a hand"}, "length"),
        ({"way": "width"}, "how wide"),
        ({"way": "dpi", "dpi": "1e9"}, "less than or equal"),
        ({"way": "nonsense"}, "How large"),
        ({}, "How large"),
    ],
)
def test_an_answer_that_cannot_be_is_refused_in_words_and_the_file_stays(
    own_desk: Client, project: Project, sent: dict[str, str], said: str
) -> None:
    page = bring(own_desk, project, photo(), "fish.png").url
    answer = own_desk.post(page, sent)
    assert answer.status_code == 200
    assert said.lower() in words(answer).lower()
    assert WaitingFile.objects.count() == 1
    assert not Pattern.objects.exists()


def test_the_picture_shown_is_made_anew_and_for_its_owner_only(
    cast: Cast, own_desk: Client, project: Project
) -> None:
    bring(own_desk, project, photo(".jpg") + b"<script>alert(1)</script>", "fish.jpg")
    waiting = WaitingFile.objects.get()
    address = reverse("pattern_waiting_picture", args=[project.pk, waiting.token])
    answer = own_desk.get(address)
    assert answer["Content-Type"] == "image/jpeg"
    assert answer["Cache-Control"] == "private, no-store"
    assert answer.content.startswith(b"\xff\xd8")
    assert b"<script" not in answer.content
    for person in (cast.classmate, cast.teacher, cast.outsider):
        for where in (address, reverse("pattern_waiting", args=[project.pk, waiting.token])):
            assert signed_in(person).get(where).status_code in (403, 404)


def test_after_some_hours_the_student_is_asked_to_choose_the_file_again(
    own_desk: Client, project: Project
) -> None:
    page = bring(own_desk, project, photo(), "fish.png").url
    with time_machine.travel(WaitingFile.objects.get().brought_at + KEPT):
        answer = own_desk.get(page, follow=True)
    assert "no longer kept" in words(answer)
    assert answer.redirect_chain[0][0] == reverse("pattern_upload", args=[project.pk])


def test_the_answer_sent_twice_makes_one_pattern(own_desk: Client, project: Project) -> None:
    page = bring(own_desk, project, photo(), "fish.png").url
    sent = {"way": "width", "width_mm": "60"}
    own_desk.post(page, sent)
    answer = own_desk.post(page, sent, follow=True)
    assert "no longer kept" in words(answer)
    assert Pattern.objects.count() == 1


def test_a_project_whose_pattern_is_handed_in_takes_no_answer(
    own_desk: Client, project: Project
) -> None:
    page = bring(own_desk, project, photo(), "fish.png").url
    handed_in(project)
    answer = own_desk.post(page, {"way": "width", "width_mm": "60"})
    assert "handed in" in words(answer)
    assert Pattern.objects.count() == 1


def test_a_drawing_without_a_unit_asks_with_the_size_that_each_unit_would_make(
    own_desk: Client, project: Project
) -> None:
    answer = bring(own_desk, project, by_hand(square(2.5)), "tag.dxf", copies="2")
    page = words(own_desk.get(answer.url))
    assert "2.5 mm × 2.5 mm" in page
    assert "25.0 mm × 25.0 mm" in page
    assert "63.5 mm × 63.5 mm" in page
    assert "which the brief does not allow" in page
    assert own_desk.post(answer.url, {"way": "unit", "unit": "in"}).status_code == 302
    pattern = Pattern.objects.get()
    assert width_of(pattern) == pytest.approx(63.5)
    assert pattern.copies == 2
    assert not WaitingFile.objects.exists()


def test_a_drawing_without_a_unit_may_be_given_its_width_instead(
    own_desk: Client, project: Project
) -> None:
    where = bring(own_desk, project, by_hand(square(2.5)), "tag.dxf").url
    for sent in ({"way": "unit", "unit": "parsec"}, {"way": "unit"}, {"way": "width"}):
        assert own_desk.post(where, sent).status_code == 200
    own_desk.post(where, {"way": "width", "width_mm": "41"})
    assert width_of(Pattern.objects.get()) == pytest.approx(41.0)


def test_a_file_is_kept_while_something_else_in_the_form_is_mended(
    own_desk: Client, project: Project
) -> None:
    answer = bring(own_desk, project, DISC, "disc.svg", width_mm="a hand")
    assert "disc.svg" in words(answer)
    kept = WaitingFile.objects.get()
    sent = {"copies": "1", "metal": str(project.brief.metals.get().pk), "kept": kept.token}
    answer = own_desk.post(reverse("pattern_upload", args=[project.pk]), sent)
    assert answer.url == reverse("pattern", args=[Pattern.objects.get().pk])
    assert Pattern.objects.get().file_name == "disc.svg"
    assert not WaitingFile.objects.exists()


def test_a_file_chosen_anew_is_stronger_than_the_kept_one(
    own_desk: Client, project: Project
) -> None:
    bring(own_desk, project, DISC, "disc.svg", width_mm="a hand")
    bring(own_desk, project, DISC, "other.svg", kept=WaitingFile.objects.get().token)
    assert Pattern.objects.get().file_name == "other.svg"
    assert not WaitingFile.objects.exists()


def test_somebody_elses_kept_file_is_no_file(
    cast: Cast, own_desk: Client, project: Project
) -> None:
    bring(own_desk, project, DISC, "disc.svg", width_mm="a hand")
    mate = make_project(cast, project.brief, cast.classmate_seat)
    sent = {"copies": "1", "metal": str(mate.brief.metals.get().pk)}
    sent["kept"] = WaitingFile.objects.get().token
    answer = signed_in(cast.classmate).post(reverse("pattern_upload", args=[mate.pk]), sent)
    assert "Choose the file with your pattern." in words(answer)


@pytest.mark.parametrize("token", ["\0", "a\0b", "../x", "x" * 10_000])
def test_a_kept_file_that_nobody_ever_kept_is_no_file(
    own_desk: Client, project: Project, token: str
) -> None:
    sent = {"copies": "1", "metal": str(project.brief.metals.get().pk), "kept": token}
    answer = own_desk.post(reverse("pattern_upload", args=[project.pk]), sent)
    assert "Choose the file with your pattern." in words(answer)


@pytest.mark.django_db(transaction=True)
def test_the_answer_sent_twice_at_once_makes_one_pattern(cast: Cast) -> None:
    project = make_project(cast)
    page = bring(signed_in(cast.owner), project, by_hand(square(2.5)), "tag.dxf").url
    two = [signed_in(cast.owner), signed_in(cast.owner)]
    sent = {"way": "unit", "unit": "cm"}
    answers = told_at_once(*[lambda one=one: one.post(page, sent) for one in two])
    assert answers == ["done", "done"]
    assert Pattern.objects.count() == 1
    assert not WaitingFile.objects.exists()


def test_what_waits_too_long_goes_also_when_nobody_brings_another_file(
    own_desk: Client, project: Project, evidence: Path
) -> None:
    bring(own_desk, project, photo(), "fish.png")
    assert [path for path in evidence.rglob("*") if path.is_file()]
    # the files were written a moment after that time was noted
    with time_machine.travel(WaitingFile.objects.get().brought_at + KEPT + dt.timedelta(minutes=1)):
        call_command("reap")
    assert not WaitingFile.objects.exists()
    assert not [path for path in evidence.rglob("*") if path.is_file()]


def test_known_things_have_the_sizes_of_their_sources() -> None:
    from studio.core.reading.known_things import BY_CODE

    # ISO/IEC 7810 ID-1; US Mint coin specifications; Council Regulation (EC) 975/98.
    assert (BY_CODE["card"].width_mm, BY_CODE["card"].height_mm) == (85.60, 53.98)
    us = [BY_CODE[f"us-{n}"].width_mm for n in (1, 5, 10, 25, 50, 100)]
    assert us == [19.05, 21.21, 17.91, 24.26, 30.61, 26.49]
    euro = [BY_CODE[f"eur-{n}"].width_mm for n in (1, 2, 5, 10, 20, 50, 100, 200)]
    assert euro == [16.25, 18.75, 21.25, 19.75, 22.25, 24.25, 23.25, 25.75]
    assert math.isclose(BY_CODE["length"].width_mm, 0)


@pytest.mark.parametrize("language", ["en", "es"])
def test_every_coin_says_whose_it_is_and_the_schools_own_come_first(language: str) -> None:
    with translation.override(language):
        groups = dict(thing_choices("EUR"))
        names = [words.partition(",")[0] for things in groups.values() for _, words in things]
    assert len(set(names)) == len(names)
    assert next(code for code, _ in list(groups.values())[1]) == "eur-1"
    assert next(code for code, _ in list(dict(thing_choices("USD")).values())[1]) == "us-1"
