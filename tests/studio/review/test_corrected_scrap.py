"""A scrap weight that was misread at the give-back, corrected: every figure that rests on it."""

from __future__ import annotations

import csv
import io
import zipfile
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from classroom.figures.units import format_mass
from classroom.models import History, subject_of
from classroom.refusals import Refused
from inventory.models import BudgetEntry, ScrapEntry
from inventory.rack import scrap
from studio.auditing import audit_plans
from studio.models import CutPlan, Quote, Return
from studio.steps.rack.correct_scrap import correct_scrap
from studio.steps.rack.scrap_weights import scrap_of
from studio.telling.records.archive import write_archive
from studio.telling.review.balances import added, closed_of
from tests.inventory.pages import tick
from tests.people import signed_in

from .conftest import Class


def correct(after: Class, grams: str, reason: str = "the tray was on the scale") -> None:
    correct_scrap(after.closed, Decimal(grams), acting=after.cast.teacher, reason=reason)


def weighed(after: Class) -> float:
    return added("Together", closed_of(Return.objects.all())).weighed_g


def test_a_weighing_corrected_at_the_scrap_boxes_reaches_the_review(after: Class) -> None:
    entry = ScrapEntry.objects.get(cause=subject_of(after.closed))
    scrap.correct_weighing(
        entry, Decimal("1.75"), acting=after.cast.teacher, reason="the tray was on the scale"
    )
    whole = added("Together", closed_of(Return.objects.all()))
    assert whole.weighed_g == pytest.approx(1.75)
    assert whole.scales_g == pytest.approx(1.75 - whole.expected_g, abs=0.051)


@pytest.mark.parametrize("name", ["course_review", "review", "review_print", "plan_return"])
def test_every_page_that_shows_it_follows(after: Class, name: str) -> None:
    args = {"review": [], "plan_return": [after.closed.pk]}.get(name, [after.cast.course.pk])
    client, url = signed_in(after.cast.teacher), reverse(name, args=args)
    assert "2.5 g" in client.get(url).content.decode()
    correct(after, "1.75")
    text = client.get(url).content.decode()
    assert "1.8 g" in text
    if name == "plan_return":
        assert "the tray was on the scale" in text
        assert "2.5 g" in text  # what was written at first stays to be read
    else:
        assert "2.5 g" not in text


def test_the_courses_archive_follows(after: Class) -> None:
    correct(after, "1.75")
    file = io.BytesIO()
    write_archive(after.cast.course, file)
    text = zipfile.ZipFile(file).read("returns.csv").decode("utf-8-sig")
    (row,) = csv.DictReader(io.StringIO(text))
    assert row["scrap_g"] == "1.75"


def test_a_correction_is_corrected_again_and_the_books_hold(after: Class) -> None:
    correct(after, "1.75")
    correct(after, "3.10", "read once more")
    assert scrap_of(after.closed) == Decimal("3.10")
    assert scrap.box_mass(after.cast.school, "C11000") == Decimal("3.10")
    assert list(audit_plans()) == []
    assert History.objects.about(after.closed).filter(verb="correct-scrap").count() == 2


def test_scrap_forgotten_at_the_give_back_is_weighed_later(after: Class) -> None:
    Return.objects.update(scrap_mass_g=0)  # as it was when nothing was weighed
    ScrapEntry.objects.all()._raw_delete(using="default")
    back = Return.objects.get()
    back.balance["mass_g"]["scrap_weighed"] = 0.0
    back.save()
    after.closed = CutPlan.objects.get(pk=after.closed.pk)
    correct(after, "4.00", "the bag was found")
    assert weighed(after) == pytest.approx(4.0)
    correct(after, "3.50", "without the bag")
    assert scrap_of(after.closed) == Decimal("3.50")
    assert list(audit_plans()) == []


def test_money_stays_as_it_was_settled(after: Class) -> None:
    """Scrap has no price of its own in a quote: metal is charged by area, so nothing moves."""
    money = list(BudgetEntry.objects.values_list("kind", "amount"))
    quotes = list(Quote.objects.values_list("pk", "total"))
    correct(after, "0.20")
    assert list(BudgetEntry.objects.values_list("kind", "amount")) == money
    assert list(Quote.objects.values_list("pk", "total")) == quotes


def test_it_needs_a_reason_a_closed_plan_and_a_weight(after: Class) -> None:
    with pytest.raises(Refused, match="Say why"):
        correct(after, "1.75", " ")
    with pytest.raises(Refused, match="in grams"):
        correct(after, "-1")
    CutPlan.objects.filter(pk=after.closed.pk).update(state="issued")
    after.closed.refresh_from_db()
    with pytest.raises(Refused, match="closed"):
        correct(after, "1.75")


def test_corrected_plans_cost_the_review_no_more_queries(after: Class) -> None:
    def asked() -> int:
        with CaptureQueriesContext(connection) as done:
            closed_of(Return.objects.all())
        return len(done)

    correct(after, "1.75")
    few = asked()
    correct(after, "1.80")
    assert asked() == few


def test_the_scrap_boxes_know_how_much_scrap_a_plan_can_have(after: Class) -> None:
    entry = ScrapEntry.objects.get(cause=subject_of(after.closed))
    client, address = signed_in(after.cast.teacher), reverse("scrap_correct", args=[entry.pk])
    mass = after.closed.metal_return.balance["mass_g"]
    most = format_mass(mass["out"] - mass["offcuts"])
    assert f"At most {most} is expected" in client.get(address).content.decode()
    text = client.post(address, {"weight": "75 g", "reason": "misread"}).content.decode()
    assert "75.0 g of scrap cannot be" in text
    client.post(address, {"weight": "0", "reason": "another plan's"})
    assert scrap_of(after.closed) == 0


def url_of(after: Class) -> str:
    return reverse("plan_scrap_correct", args=[after.closed.pk])


def test_who_may_correct_it(after: Class) -> None:
    cast = after.cast
    people = (cast.teacher, cast.owner, cast.classmate, cast.other_teacher, cast.outsider)
    for method in ("get", "post"):
        answers = [getattr(signed_in(p), method)(url_of(after)).status_code for p in people]
        assert answers == [200, 403, 403, 404, 404]


def test_its_page_shows_what_is_expected_and_asks_about_what_cannot_be(after: Class) -> None:
    client = signed_in(after.cast.teacher)
    text = client.get(url_of(after)).content.decode()
    expected = after.closed.metal_return.balance["mass_g"]["scrap_expected"]
    assert format_mass(expected) in text
    typed = {"scrap_mass_g": "750", "reason": "misread"}
    answer = client.post(url_of(after), typed)
    assert answer.status_code == 200
    assert "cannot be" in answer.content.decode()
    assert 'value="750"' in answer.content.decode()
    assert scrap_of(after.closed) == Decimal("2.50")
    yes = {"sure": tick(answer.content.decode())}
    client.post(url_of(after), typed | yes)
    assert scrap_of(after.closed) == Decimal("2.50")  # the tick alone is not enough for that
    client.post(url_of(after), typed | yes | {"sure_why": "another plan's bag came along"})
    assert scrap_of(after.closed) == Decimal("750.00")
    last = ScrapEntry.objects.latest("pk")
    assert "misread" in last.reason
    assert "another plan's bag came along" in last.reason
