"""The page of a stock piece that is passed on, and the bench pages that lead to it."""

from __future__ import annotations

from typing import Any

import pytest
from django.urls import reverse
from time_machine import Traveller

from studio.models import MetalHolder, PlanProject, StockSignOff
from studio.steps.sharing.stock_steps import start
from tests.people import signed_in, visit

from .making import Passed

pytestmark = pytest.mark.django_db


def page_of(passed: Passed, person: Any, **query: str) -> str:
    answer = visit(person, reverse("passed_on", args=[passed.stock.pk]), **query)
    assert answer.status_code == 200
    return str(answer.content.decode())


def post(passed: Passed, person: Any, name: str, pk: int | None = None, **data: Any) -> Any:
    address = reverse(name, args=[passed.stock.pk if pk is None else pk])
    return signed_in(person).post(address, data, follow=True)


def test_a_student_sees_letters_and_turns_and_no_names(passed: Passed, clock: Traveller) -> None:
    passed.dry(clock)
    text = page_of(passed, passed.cast.classmate)
    assert "Student A has the metal" in text
    assert "Your turn is number 2" in text
    assert str(passed.cast.owner) not in text
    assert reverse("bench", args=[passed.projects[0].pk]) not in text


def test_the_teacher_sees_names_and_who_is_next(passed: Passed, clock: Traveller) -> None:
    passed.dry(clock)
    text = page_of(passed, passed.cast.teacher)
    assert f"Next is {passed.cast.classmate} (B)" in text


def test_students_do_the_common_steps_on_their_page(passed: Passed, clock: Traveller) -> None:
    owner = passed.cast.owner
    assert "Start this step for all" in page_of(passed, owner)
    post(passed, owner, "stock_step_start", passed.step("prepare").pk)
    post(passed, owner, "stock_step_done", passed.step("prepare").pk)
    post(passed, owner, "stock_step_start", passed.step("adhere").pk)
    assert "My papers are stuck on" in page_of(passed, owner)
    post(passed, owner, "papers_stick", passed.step("adhere").pk)
    assert "My papers are stuck on" not in page_of(passed, owner)
    answer = post(passed, passed.cast.classmate, "papers_stick", passed.step("adhere").pk)
    assert "your papers are stuck on" in answer.content.decode()
    assert passed.step("adhere").done_at is not None


def test_others_find_nothing(passed: Passed) -> None:
    for person in (passed.cast.other_teacher, passed.cast.outsider, passed.cast.outside_student):
        for name, pk in (("passed_on", passed.stock.pk),):
            assert visit(person, reverse(name, args=[pk])).status_code == 404
        step = reverse("stock_step_start", args=[passed.step("prepare").pk])
        assert signed_in(person).post(step).status_code == 404


def test_a_teacher_hands_on_in_one_form(passed: Passed, clock: Traveller) -> None:
    passed.dry(clock)
    seen = MetalHolder.objects.get().pk
    to = passed.share(1).pk
    answer = post(passed, passed.cast.teacher, "metal_hand_on", to=to, reason="", seen=seen)
    assert f"{passed.cast.classmate} has {passed.stock.stock_piece.code} now." in (
        answer.content.decode()
    )
    answer = post(passed, passed.cast.teacher, "metal_hand_on", to="shelf", reason="", seen=seen)
    assert "just handed this metal on" in answer.content.decode()
    assert post(passed, passed.cast.owner, "metal_hand_on", to=to, seen=seen).status_code == 403


def test_a_hand_that_is_no_students_is_refused_on_the_form(
    passed: Passed, clock: Traveller
) -> None:
    passed.dry(clock)
    answer = post(passed, passed.cast.teacher, "metal_hand_on", to="999999", reason="", seen="0")
    assert "999999" in answer.content.decode()
    assert MetalHolder.objects.count() == 1


def test_the_teacher_changes_turns_names_a_stand_in_and_leaves_out(
    passed: Passed, clock: Traveller
) -> None:
    teacher = passed.cast.teacher
    post(passed, teacher, "turn_move", share=passed.share(1).pk, turn="2", where="earlier")
    assert passed.share(1).turn == 1
    passed.do("prepare", clock)
    start(passed.step("adhere"), acting=teacher)
    assert "Somebody is away" in page_of(passed, teacher)
    data = {"share": passed.share(0).pk, "by": passed.cast.classmate.pk, "reason": "ill"}
    post(passed, teacher, "papers_stand_in", **data)
    assert StockSignOff.objects.get(kind="stuck").stand_in == passed.cast.classmate
    answer = post(passed, teacher, "student_leave_out", share=passed.share(1).pk, reason=" ")
    assert "Say why: it is kept with the plan." in answer.content.decode()
    post(passed, teacher, "student_leave_out", share=passed.share(1).pk, reason="away")
    assert PlanProject.objects.get(left_out_at__isnull=False).project == passed.projects[1]
    assert passed.step("adhere").done_at is not None
    assert "Left out of this plan" in page_of(passed, teacher)


def test_a_remark_sends_a_common_step_back(passed: Passed, clock: Traveller) -> None:
    passed.do("prepare", clock)
    pk = passed.step("prepare").pk
    post(passed, passed.cast.teacher, "stock_step_send_back", pk, reason="dark spots")
    assert "dark spots" in page_of(passed, passed.cast.owner)
    post(passed, passed.cast.teacher, "stock_step_override", pk, way="mark_done", reason="shown")
    assert passed.step("prepare").done_at is not None


def test_the_page_speaks_spanish(passed: Passed, clock: Traveller) -> None:
    passed.dry(clock)
    assert "Metal in several hands" not in page_of(passed, passed.cast.owner, lang="es")
