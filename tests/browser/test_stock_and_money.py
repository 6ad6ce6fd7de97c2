"""Metal and money in a real browser: order, receive in part, count, sell scrap, move money."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from playwright.sync_api import Page, expect

from inventory.models import Budget, CountedPiece, MetalOrder, StockPiece
from inventory.rack import scrap
from inventory.spending import ledger
from studio.steps.bench.situation import school_now
from tests.inventory.pages import metal_of, offcut_for
from tests.people import Cast, make_cast

from .conftest import Visitor

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def cast(transactional_db: None) -> Cast:
    cast = make_cast()
    metal_of(cast.school)
    return cast


def send(page: Page, name: str) -> None:
    page.get_by_role("button", name=name, exact=True).click()


def test_an_order_comes_in_part_is_counted_and_what_is_missing_is_booked(
    visitor: Visitor, cast: Cast
) -> None:
    visitor.come_in("marit.quay")
    page = visitor.go("/rack/orders/new/")
    page.locator("[name=seller]").fill("Harbour Metals")
    page.locator("[name=line-0-metal]").select_option(index=1)
    page.locator("[name=line-0-count]").fill("3")
    page.locator("[name=line-0-width]").fill("152 mm")
    page.locator("[name=line-0-height]").fill("100 mm")
    visitor.look("order-new")
    send(page, "Write the order down")
    page.get_by_role("link", name="Receive what came").click()
    page.locator("[name=line-0-count]").fill("2")
    page.locator("[name=line-0-price]").fill("6.50")
    visitor.look("order-receive")
    send(page, "Put the sheets on the rack")
    expect(page.get_by_text("The sheets are on the rack.")).to_be_visible()
    order = MetalOrder.objects.get()
    page = visitor.go(f"/rack/orders/{order.pk}/")
    expect(page.get_by_role("row", name="copper").locator("td").last).to_have_text("1")
    visitor.look("order-in-part")
    assert order.closed_at is None

    offcut = offcut_for(cast)
    page = visitor.go("/rack/counts/")
    page.locator("main form button.btn-primary").first.click()
    rows = list(CountedPiece.objects.order_by("stock_piece__code"))
    assert len(rows) == 3
    for row in rows:
        seen = "missing" if row.stock_piece_id == offcut.pk else "here"
        page.locator(f"#seen-{row.pk}-{seen}").check()
    visitor.look("count-ticked")
    page.get_by_role("button", name="Write this page down").click()
    expect(page.get_by_text("All are looked at.")).to_be_visible()
    page.locator("[name=reason]").fill("end of term")
    send(page, "Close the count")
    send(page, "Book them")
    expect(page.get_by_text("1 difference booked")).to_be_visible()
    visitor.look("count-booked")
    assert StockPiece.objects.get(pk=offcut.pk).state == "gone"


def test_scrap_is_sold_into_a_budget_and_money_moves_on_and_the_term_is_foreseen(
    visitor: Visitor, cast: Cast
) -> None:
    today = school_now(cast.school).date()  # the page counts by the school's day
    cast.course.starts_on = today - dt.timedelta(weeks=6)
    cast.course.ends_on = today + dt.timedelta(weeks=6)
    cast.course.save()
    other = type(cast.course).objects.create(
        school=cast.school,
        title="Jewellery evening",
        term="Autumn",
        starts_on=cast.course.starts_on,
        ends_on=cast.course.ends_on,
    )
    other.teachers.add(cast.teacher)
    budget = ledger.open_budget(cast.course)
    ledger.allot(budget, Decimal(40), acting=cast.teacher, reason="autumn")
    ledger.charge(budget, Decimal(12), acting=cast.teacher, reason="metal", cause="cutplan:1")
    scrap.weigh_scrap(cast.school, "C11000", Decimal(400), acting=cast.teacher, reason="trays")

    visitor.come_in("marit.quay")
    page = visitor.go("/scrap/sales/new/")
    page.locator("[name=alloy_code]").select_option("C11000")
    page.locator("[name=weight]").fill("350 g")
    page.locator("[name=amount]").fill("2.80")
    page.locator("[name=budget]").select_option(str(cast.course.pk))
    page.locator("[name=buyer]").fill("Tideway Salvage")
    visitor.look("scrap-sell")
    send(page, "Write the sale down")
    expect(page.get_by_text("The sale is written down.")).to_be_visible()

    page = visitor.go(f"/courses/{cast.course.pk}/budget/")
    expect(page.get_by_role("heading", name="To the end of term")).to_be_visible()
    # 12.00 in six weeks, so 12.00 in the six to come: 30.80 left now, 18.80 then.
    expect(page.locator("section", has_text="To the end of term").last).to_contain_text("18.80")
    page.get_by_text("Move money to another course").click()
    page.locator("[name=target]").select_option(str(other.pk))
    moving = page.locator("form[action$='/transfer/']")
    moving.locator("[name=transfer_amount]").fill("10")
    moving.locator("[name=transfer_reason]").fill("the evening class needs brass")
    visitor.look("budget-transfer")
    moving.get_by_role("button", name="Move it").click()
    visitor.look("budget-moved")
    assert Budget.objects.get(course=other).left == Decimal("10.00")
    assert Budget.objects.get(pk=budget.pk).left == Decimal("20.80")
    page.get_by_label("Kind").select_option("charge")
    send(page, "Show")
    expect(page.locator("main table tbody tr")).to_have_count(1)
