"""A student's own blank, parted out of a class's sheet, is laid by the student or the teacher."""

from __future__ import annotations

from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from classroom.models import User
from classroom.refusals import Refused
from studio.models import CutPlan, Layout, Project
from studio.queries.layouts import layout_for
from studio.steps.layouts import change
from studio.steps.layouts.standing import what_no_longer_holds
from studio.steps.relaying.by_hand import relay
from tests.people import signed_in
from tests.studio.bench.making import World
from tests.studio.sharing import making

pytestmark = pytest.mark.django_db


@pytest.fixture
def own(world: World) -> CutPlan:
    """The owner's plan: a tag of 30 × 20 mm in the corner of a blank of 120 × 80 mm."""
    owner, other = world.project(world.cast.seat), world.project(world.cast.classmate_seat)
    making.handed_out(world, making.on_sheets_of_their_own(world, owner, other))
    return CutPlan.objects.get(shares__project=owner, shares__live=True)


def laid_out(person: User, plan: CutPlan) -> Layout:
    """As the student comes to it: by the address of the blank."""
    answer = signed_in(person).get(reverse("own_blank_layout", args=[plan.pk]))
    assert answer.status_code == 302
    return layout_for(person, int(answer.url.rstrip("/").rpartition("/")[2]))


def moved(one: Layout, person: User, x: float, y: float) -> Layout:
    (placed,) = one.laid
    to = type(placed)(placed.piece, 0, placed.metal, False, 0.0, x, y)
    return change.put(one, [change.Move(placed.piece, 0, to)], acting=person)


@pytest.mark.parametrize("who", ["owner", "teacher"])
def test_the_student_and_the_teacher_lay_it_anew(world: World, own: CutPlan, who: str) -> None:
    person = getattr(world.cast, who)
    CutPlan.objects.filter(pk=own.pk).update(to_lay_anew=True)
    one = laid_out(person, own)
    assert one.asked.parting is None
    assert what_no_longer_holds(one) == []
    after = moved(one, person, 50.0, 30.0)
    page = signed_in(person).get(reverse("layout", args=[one.pk]))
    assert page.context["relay_url"] == reverse("layout_relay", args=[one.pk])
    assert "Use this layout on the blank" in page.content.decode()
    answer = signed_in(person).post(page.context["relay_url"])
    assert answer.url == reverse("plan", args=[own.pk])
    now = CutPlan.objects.get(pk=own.pk)
    assert (now.state, now.to_lay_anew, now.parent_id) == ("issued", False, own.parent_id)
    assert now.laid is not None
    assert now.laid.placements == after.laid
    assert list(now.quotes.values_list("total")) == list(own.quotes.values_list("total"))


def test_nobody_else_finds_it(world: World, own: CutPlan) -> None:
    one = laid_out(world.cast.owner, own)
    for person in (world.cast.classmate, world.cast.outsider):
        client = signed_in(person)
        assert client.get(reverse("own_blank_layout", args=[own.pk])).status_code == 404
        for name in ("layout", "layout_relay", "layout_change"):
            address = reverse(name, args=[one.pk])
            asked: Any = client.get if name == "layout" else client.post
            assert asked(address).status_code == 404


def test_a_shared_plan_is_no_own_blank(world: World) -> None:
    owner, other = world.project(world.cast.seat), world.project(world.cast.classmate_seat)
    shared = making.parted(world, owner, other)
    for person in (world.cast.owner, world.cast.teacher):
        answer = signed_in(person).get(reverse("own_blank_layout", args=[shared.pk]))
        assert answer.url == reverse("plan", args=[shared.pk])
    assert not Layout.objects.exists()


def test_what_has_a_fault_is_refused(world: World, own: CutPlan) -> None:
    one = moved(laid_out(world.cast.owner, own), world.cast.owner, 110.0, 30.0)
    with pytest.raises(Refused, match="over the edge"):
        relay(one, acting=world.cast.owner)
    assert CutPlan.objects.get(pk=own.pk).answer == own.answer


def test_once_papers_are_stuck_nothing_is_moved(world: World, own: CutPlan) -> None:
    one = laid_out(world.cast.owner, own)
    project = Project.objects.get(plan_shares__plan=own, plan_shares__live=True)
    project.bench_steps.filter(kind="prepare").update(started_at=timezone.now())
    one = moved(one, world.cast.owner, 20.0, 20.0)
    project.bench_steps.filter(kind="adhere").update(started_at=timezone.now())
    with pytest.raises(Refused, match="stuck on"):
        moved(one, world.cast.owner, 30.0, 30.0)
    with pytest.raises(Refused, match="stuck on"):
        relay(one, acting=world.cast.owner)
    page = signed_in(world.cast.owner).get(reverse("layout", args=[one.pk]))
    assert "relay" not in page.content.decode()


def test_the_plan_page_leads_to_the_table(world: World, own: CutPlan) -> None:
    CutPlan.objects.filter(pk=own.pk).update(to_lay_anew=True)
    for person in (world.cast.owner, world.cast.teacher):
        page = signed_in(person).get(reverse("plan", args=[own.pk])).content.decode()
        assert reverse("own_blank_layout", args=[own.pk]) in page
        assert "do not fit the blank" in page
