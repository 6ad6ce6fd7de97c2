"""What adds up and what does not, by metal and term; month by month; a statement for each term."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest
from django.urls import reverse

from classroom.models import Course
from studio.models import CutPlan, Return
from studio.queries.patterns import projects_for
from studio.queries.plans import plans_for
from studio.telling.review.balances import added, added_by, closed_of
from studio.telling.review.charts import month_bars
from studio.telling.review.entries import entries_of
from tests.people import signed_in
from tests.studio.plans.making import queries

from .conftest import Class, close


def test_what_went_out_is_pieces_offcuts_kerf_and_scrap(after: Class) -> None:
    closed = closed_of(Return.objects.all())
    whole = added("Together", closed)
    assert whole.plans == 1
    parts = whole.pieces + whole.offcuts + whole.kerf + whole.scrap
    assert whole.out == pytest.approx(parts, abs=0.05)  # each is told to a hundredth
    assert whole.unexplained == pytest.approx(0.0, abs=1.0)
    assert whole.weighed_g == 2.5
    assert whole.scales_g == pytest.approx(2.5 - whole.expected_g, abs=0.051)


def test_what_no_entry_explains_is_shown_to_the_teacher(after: Class) -> None:
    row = after.closed.metal_return
    row.balance["area_mm2"]["scrap"] -= 300
    row.save()
    for name, args in (
        ("course_review", [after.cast.course.pk]),
        ("review", []),
        ("review_print", [after.cast.course.pk]),
    ):
        text = signed_in(after.cast.teacher).get(reverse(name, args=args)).content.decode()
        assert "Does it add up?" in text
        assert "300.00 mm²" in text or "3.00 cm²" in text, name


def test_terms_and_metals_are_added_up_apart(after: Class) -> None:
    (one,) = closed_of(Return.objects.all())
    other = replace(one, term="Spring 2027", metal="brass")
    for kind, labels in (("metal", [one.metal, "brass"]), ("term", [one.term, "Spring 2027"])):
        rows = added_by([one, other, one], kind)
        assert [row.label for row in rows] == labels
        assert [row.plans for row in rows] == [2, 1]
        assert sum(row.out for row in rows) == pytest.approx(3 * one.area["out"])


def test_months_stand_in_the_order_in_which_metal_was_handed_out(after: Class) -> None:
    teacher = after.cast.teacher
    now = entries_of(plans_for(teacher), projects_for(teacher))
    before = [replace(one, issued_on=dt.date(2026, 10, 3)) for one in now]
    bars = month_bars([*now, *before], after.cast.school)
    assert [bar["label"] for bar in bars] == ["Oct 2026", "Nov 2026"]
    assert all("in pieces" in bar["value"] for bar in bars)


def test_a_review_of_two_metals_has_a_table_of_them(after: Class) -> None:
    world = after.world
    world.brief.pk, world.brief._state.adding = None, True
    world.brief.save()
    plan = world.issued(world.project(after.cast.seat), sheets=world.sheets[1:2])
    url = reverse("course_review", args=[after.cast.course.pk])
    assert "By metal" not in signed_in(after.cast.teacher).get(url).content.decode()
    metal = plan.metal
    metal.pk, metal._state.adding, metal.thickness_mm = None, True, metal.thickness_mm * 2
    metal.save()
    CutPlan.objects.filter(pk=plan.pk).update(metal=metal)
    text = signed_in(after.cast.teacher).get(url).content.decode()
    assert "By metal" in text
    assert f'href="{url}?metal={metal.pk}"' in text


def test_a_statement_tells_each_term_apart_newest_first(after: Class) -> None:
    world, course = after.world, after.cast.course
    later = Course.objects.create(
        school=after.cast.school,
        title="Metals 2",
        term="Spring 2027",
        starts_on=course.ends_on + dt.timedelta(days=1),
        ends_on=course.ends_on + dt.timedelta(days=90),
    )
    url = reverse("statement")
    alone = signed_in(after.cast.owner).get(url).content.decode()
    assert course.term in alone
    assert later.term not in alone
    few = queries(signed_in(after.cast.owner), url)
    world.brief.pk, world.brief._state.adding = None, True
    world.brief.save()
    close(world, world.issued(world.project(after.cast.seat), sheets=world.sheets[1:2]))
    world.brief.course = later  # the same student's seat there brings the second term
    world.brief.save()
    both = signed_in(after.cast.owner).get(url).content.decode()
    assert both.index(later.term) < both.index(course.term)
    assert queries(signed_in(after.cast.owner), url) <= few + 1
