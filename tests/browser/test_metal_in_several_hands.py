"""A sheet of two students, from rubbing it once for both to handing it on, in a real browser."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import expect

from studio.models import MetalHolder
from studio.steps.sharing.sticking import stand_in
from studio.steps.sharing.stock_steps import override, start
from tests.studio.bench.making import make_world
from tests.studio.sharing.passed_on.making import Passed, passed_plan

from ..people import make_cast
from .barriers import no_barriers
from .conftest import Visitor

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def passed(transactional_db: Any) -> Passed:
    cast = make_cast()
    world = make_world(cast)
    world.brief.teacher_signs = []
    world.brief.save()
    return passed_plan(world, [cast.seat, cast.classmate_seat])


def test_a_student_does_what_is_done_once_for_all(visitor: Visitor, passed: Passed) -> None:
    visitor.come_in(passed.cast.owner.username)
    page = visitor.go(f"/projects/{passed.projects[0].pk}/bench/")
    visitor.look("shared-bench")
    page.get_by_role("link", name="Do it together").click()
    page.get_by_role("button", name="Start this step for all").click()
    page.get_by_role("button", name="Done: I sign this step").click()
    page.get_by_role("button", name="Start this step for all").click()
    expect(page.get_by_role("button", name="My papers are stuck on")).to_be_visible()
    visitor.look("shared-sticking")
    no_barriers(visitor)
    page.get_by_role("button", name="My papers are stuck on").click()
    expect(page.get_by_text("You have signed that your papers are stuck on.")).to_be_visible()
    visitor.look("shared-stuck")


def test_a_teacher_sees_who_has_it_and_hands_it_on(visitor: Visitor, passed: Passed) -> None:
    for kind in ("prepare", "dry"):
        if kind == "dry":
            _everybody_sticks(passed)
        override(passed.step(kind), acting=passed.cast.teacher, reason="shown", mark_done=True)
    visitor.come_in(passed.cast.teacher.username)
    page = visitor.go(f"/passed-on/{passed.stock.pk}/")
    visitor.look("in-several-hands")
    no_barriers(visitor)
    visitor.go("/")
    visitor.look("first-page-hands")
    page = visitor.go(f"/courses/{passed.cast.course.pk}/bench/")
    visitor.look("class-bench-hands")
    code = passed.stock.stock_piece.code
    page.get_by_role("button", name=f"Hand {code} to {passed.cast.classmate}").click()
    expect(page.get_by_text(f"{passed.cast.classmate} has {code} now.")).to_be_visible()
    assert MetalHolder.objects.count() == 2
    visitor.page.context.clear_cookies()
    visitor.come_in(passed.cast.owner.username)
    page = visitor.go(f"/projects/{passed.projects[0].pk}/bench/")
    expect(page.get_by_text("Student B has it")).to_be_visible()
    visitor.look("not-your-turn")
    visitor.go(f"/passed-on/{passed.stock.pk}/?lang=es")
    visitor.look("not-your-turn-es")


def _everybody_sticks(passed: Passed) -> None:
    start(passed.step("adhere"), acting=passed.cast.teacher)
    for number in (0, 1):
        stand_in(
            passed.step("adhere"),
            passed.share(number),
            passed.cast.teacher,
            acting=passed.cast.teacher,
            reason="shown",
        )
