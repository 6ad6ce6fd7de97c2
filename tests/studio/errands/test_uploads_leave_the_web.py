"""What a person uploads is read by a worker; the page that took it answers without reading."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from shapely.geometry import box

from classroom.models import WaitingFile
from inventory.models import StockPiece
from studio.core.reading import PatternError
from studio.core.reading.metal import MetalPhoto
from studio.models import Errand, Pattern, Project
from studio.steps.patterns.take_back import take_back
from studio.steps.rack import photographed_metal
from tests.core.reading.dxfs import by_hand, square
from tests.people import Cast, signed_in
from tests.studio.patterns.making import DISC, THIN, handed_in, svg, upload, words

from .making import (
    follow,
    newest,
    picture_of_a_square,
    send_outline,
    send_pattern,
    send_photo,
    work,
)


@pytest.fixture
def teacher(cast: Cast) -> Client:
    return signed_in(cast.teacher)


@pytest.mark.usefixtures("no_reading")
def test_no_upload_of_any_kind_is_read_by_the_request_that_brings_it(
    cast: Cast, own_desk: Client, teacher: Client, project: Project
) -> None:
    answers = [
        send_pattern(own_desk, project),
        send_pattern(own_desk, project, picture_of_a_square(), "scan.png"),
        send_pattern(own_desk, project, picture_of_a_square(), "scan.png", mark="on"),
        send_photo(teacher, cast, picture_of_a_square()),
        send_outline(teacher, cast, DISC),
    ]
    tokens = Errand.objects.order_by("pk").values_list("token", flat=True)
    assert [answer.url for answer in answers] == [reverse("errand", args=[t]) for t in tokens]
    assert not Pattern.objects.exists()


def test_a_drawing_becomes_a_pattern_when_its_turn_has_come(
    own_desk: Client, project: Project
) -> None:
    send_pattern(own_desk, project, THIN, copies="3")
    assert "You are next" in words(follow(own_desk))
    work()
    answer = follow(own_desk)
    pattern = Pattern.objects.get()
    assert answer.redirect_chain[-1][0] == reverse("pattern", args=[pattern.pk])
    assert "must be mended before you hand it in" in words(answer)
    assert (pattern.copies, pattern.file_name) == (3, "disc.svg")


def test_a_picture_of_unknown_size_leads_to_the_question_and_its_answer_to_the_pattern(
    own_desk: Client, project: Project, request: pytest.FixtureRequest
) -> None:
    send_pattern(own_desk, project, picture_of_a_square(), "scan.png", copies="2")
    work()
    question = follow(own_desk)
    waiting = WaitingFile.objects.get()
    address = reverse("pattern_waiting", args=[project.pk, waiting.token])
    assert question.redirect_chain[-1][0] == address
    assert "does not say how large" in words(question)
    with pytest.MonkeyPatch.context() as patch:
        from studio.core.reading import door

        patch.setattr(door, "confined", None)  # the answer is not read by the request either
        answer = own_desk.post(address, {"way": "width", "width_mm": "41"})
    assert answer.url == reverse("errand", args=[newest().token])
    work()
    pattern = follow(own_desk).context["pattern"]
    assert pattern.copies == 2
    assert pattern.drawing.pieces[0].size_mm[0] == pytest.approx(41.0, abs=0.1)
    assert not WaitingFile.objects.exists()


def test_a_drawing_without_a_unit_is_asked_for_it_and_read_again(
    own_desk: Client, project: Project
) -> None:
    send_pattern(own_desk, project, by_hand(square(2.5)), "tag.dxf")
    work()
    question = follow(own_desk)
    assert "2.5 mm × 2.5 mm" in words(question)
    own_desk.post(question.redirect_chain[-1][0], {"way": "unit", "unit": "in"})
    work()
    follow(own_desk)
    assert Pattern.objects.get().drawing.pieces[0].size_mm[0] == pytest.approx(63.5)


def test_a_file_that_cannot_be_read_goes_back_to_its_form_with_all_that_was_typed(
    own_desk: Client, project: Project
) -> None:
    send_pattern(own_desk, project, svg(""), "empty.svg", copies="7", width_mm="33 mm")
    work()
    answer = follow(own_desk)
    page = words(answer)
    assert answer.status_code == 200
    assert "no line" in page
    assert 'value="7"' in page
    assert 'value="33 mm"' in page
    kept = WaitingFile.objects.get()
    assert f'name="kept" value="{kept.token}"' in page
    assert "<strong>empty.svg</strong> is kept" in page
    assert newest().file.name == ""


def test_the_kept_file_is_read_again_without_being_chosen_again(
    cast: Cast, own_desk: Client, project: Project
) -> None:
    send_pattern(own_desk, project, THIN, "thin.svg")
    other = handed_in(project)
    work()
    assert "handed in" in words(follow(own_desk))
    kept = WaitingFile.objects.get()
    take_back(other, acting=cast.owner)
    sent = {"copies": "2", "metal": str(project.brief.metals.get().pk), "kept": kept.token}
    own_desk.post(reverse("pattern_upload", args=[project.pk]), sent)
    work()
    follow(own_desk)
    assert Pattern.objects.get(number=2).file_name == "thin.svg"
    assert not WaitingFile.objects.exists()


def test_an_answer_that_cannot_be_used_leaves_the_question_open(
    own_desk: Client, project: Project
) -> None:
    send_pattern(own_desk, project, picture_of_a_square(), "scan.png")
    work()
    address = follow(own_desk).redirect_chain[-1][0]
    near = {"way": "mark", "thing": "length", "length_mm": "50"}
    marks = {"x1": "100", "y1": "100", "x2": "100", "y2": "101"}
    own_desk.post(address, near | marks)
    work()
    page = words(follow(own_desk))
    assert "too near each other" in page
    assert 'value="50"' in page
    assert WaitingFile.objects.count() == 1


def test_what_was_handed_in_meanwhile_is_not_replaced(own_desk: Client, project: Project) -> None:
    send_pattern(own_desk, project, THIN)
    handed_in(project)
    work()
    assert "handed in" in words(follow(own_desk))
    assert Pattern.objects.count() == 1
    assert not newest().outcome.get("pattern")


def test_a_file_of_unknown_kind_is_refused_at_once_and_makes_no_errand(
    own_desk: Client, project: Project
) -> None:
    answer = own_desk.post(
        reverse("pattern_upload", args=[project.pk]),
        upload(b"%PDF-1.7 and more", "a.pdf", metal=str(project.brief.metals.get().pk)),
    )
    assert "PDF document" in words(answer)
    assert not Errand.objects.exists()


def test_an_outline_goes_on_the_rack_once(cast: Cast, teacher: Client) -> None:
    once = "8b0ab4c7-0000-4000-8000-000000000001"
    outline = svg('<path d="M5 5H45V25H5Z"/>')
    send_outline(teacher, cast, outline, once=once)
    send_outline(teacher, cast, outline, once=once)
    work()
    first, second = Errand.objects.order_by("pk")
    piece = StockPiece.objects.get()
    assert follow(teacher, first).redirect_chain[-1][0] == reverse("stock_piece", args=[piece.pk])
    assert "entered already, once" in words(follow(teacher, second))


def test_an_outline_with_stops_comes_back_with_their_places(cast: Cast, teacher: Client) -> None:
    send_outline(teacher, cast, svg('<path d="M10 10 L50 35 L50 10 L10 35 Z"/>'))
    work()
    page = words(follow(teacher))
    assert "crosses or touches itself" in page
    assert "from the left and" in page
    assert 'value="top drawer"' in page
    assert "<strong>offcut.svg</strong> is kept" in page
    assert not StockPiece.objects.exists()


def test_a_photo_of_metal_is_read_by_a_worker_and_kept_by_the_teachers_word(
    cast: Cast, teacher: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    photo = MetalPhoto(box(0, 0, 80, 60), (), (), b"\xff\xd8\xff", -5.0, -5.0, 90.0, 70.0)
    monkeypatch.setattr(photographed_metal, "read_metal", lambda *_, **__: photo)
    send_photo(teacher, cast, b"\xff\xd8\xff photo", measured="0.79 mm")
    work()
    seen = follow(teacher)
    assert "80.0 mm × 60.0 mm" in words(seen)
    assert not StockPiece.objects.exists()
    form = {"read": seen.context["read"], "cost": "2.50", "reason": "found"}
    teacher.post(reverse("offcut_from_photo"), form)
    assert float(StockPiece.objects.get().measured_mm or 0) == pytest.approx(0.79)


def test_a_photo_that_cannot_be_read_comes_back_with_its_file(
    cast: Cast, teacher: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: Any, **__: Any) -> MetalPhoto:
        raise PatternError("metal-at-rim", "It runs over the edge.", "Lay it inside.")

    monkeypatch.setattr(photographed_metal, "read_metal", refuse)
    send_photo(teacher, cast, b"\xff\xd8\xff photo", way="traced")
    work()
    page = words(follow(teacher))
    assert "It runs over the edge. Lay it inside." in page
    assert "<strong>metal.jpg</strong> is kept" in page


def test_a_fault_in_the_program_is_told_in_words_and_the_file_is_kept(
    own_desk: Client, project: Project, monkeypatch: pytest.MonkeyPatch
) -> None:
    from studio.steps.patterns import read_in

    def broken(*_: Any, **__: Any) -> None:
        raise RuntimeError("a fault")

    monkeypatch.setattr(read_in, "look_at", broken)
    send_pattern(own_desk, project)
    work()
    assert newest().state == Errand.State.FAILED
    page = words(follow(own_desk))
    assert "fault in the program" in page
    assert "is kept" in page


@pytest.mark.parametrize("name", ["pattern_upload", "offcut_from_svg", "offcut_from_photo"])
def test_a_file_that_nobody_reads_is_told_at_once_and_is_not_kept(
    own_desk: Client, teacher: Client, project: Project, name: str
) -> None:
    asking, where = (
        (own_desk, reverse(name, args=[project.pk]))
        if name == "pattern_upload"
        else (teacher, reverse(name))
    )
    sent = upload(b"%PDF-1.7 and more", "letter.pdf", copies="many", metal="999")
    page = words(asking.post(where, sent))
    assert 'id="id_file_error"' in page
    assert "</strong> is kept" not in page
    assert not WaitingFile.objects.exists()


def test_a_good_drawing_in_which_nothing_can_be_marked_is_kept(
    own_desk: Client, project: Project
) -> None:
    sent = upload(THIN, "thin.svg", mark="on", metal=str(project.brief.metals.get().pk))
    page = words(own_desk.post(reverse("pattern_upload", args=[project.pk]), sent))
    assert 'id="id_mark_error"' in page
    assert "<strong>thin.svg</strong> is kept" in page
