"""What has to be bought: projects to place × pattern area ÷ yield − what the rack serves."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.urls import reverse
from time_machine import Traveller

from inventory.buying.prices import record_price
from inventory.models import StockPiece
from studio.models import Brief
from studio.steps.rack.give_back import close_plan, every_offcut
from studio.telling.rack.order_list import USUAL_YIELD, Need, order_list
from tests.people import Cast, signed_in
from tests.studio.bench.making import WITH_WINDOW, World, make_it
from tests.studio.plans.making import queries


def _price(world: World, cast: Cast, amount: str = "24.00") -> None:
    record_price(
        world.metal,
        Decimal(amount),
        width_mm=Decimal(20),
        height_mm=Decimal(20),
        dated=dt.date(2026, 11, 1),
        acting=cast.teacher,
    )


def test_each_free_seat_counts_with_the_average_pattern(world: World, cast: Cast) -> None:
    world.project(cast.seat)  # two seats in the course, one pattern of 30 × 20 less a window
    (need,) = order_list(cast.school)
    assert need.projects == 2
    assert need.patterns_mm2 == pytest.approx(2 * WITH_WINDOW.area)
    assert need.share == USUAL_YIELD
    assert need.needed_mm2 == pytest.approx(2 * WITH_WINDOW.area / 0.70)
    assert need.on_rack_mm2 == pytest.approx(2 * 120 * 80)
    assert need.to_buy_mm2 == 0


def test_without_metal_on_the_rack_whole_sheets_are_to_buy(world: World, cast: Cast) -> None:
    world.project(cast.seat)
    _price(world, cast)
    StockPiece.objects.update(state="reserved")
    (need,) = order_list(cast.school)
    assert need.to_buy_mm2 == pytest.approx(1040 / 0.70)  # 2 × (600 − 80)
    assert need.sheets == 4  # of 400 mm²: 1,486 mm²
    assert need.cost == Decimal("96.00")


def test_pieces_smaller_than_a_pattern_serve_nobody(world: World, cast: Cast) -> None:
    world.project(cast.seat)
    StockPiece.objects.update(area_mm2=Decimal(500))
    (need,) = order_list(cast.school)
    assert need.on_rack_mm2 == 0


def test_the_yield_is_what_closed_plans_reached(world: World, cast: Cast, clock: Traveller) -> None:
    project = world.project(cast.seat)
    plan = world.issued(project)
    make_it(project, clock, cast)
    back = close_plan(
        plan, acting=cast.teacher, offcuts_kept=every_offcut(plan), scrap_mass_g=Decimal(1)
    )
    area = back.balance["area_mm2"]
    (need,) = order_list(cast.school)
    assert need.projects == 1  # the other seat
    assert need.plans == 1
    assert need.share == pytest.approx(area["pieces"] / (area["out"] - area["offcuts"]))


def test_a_closed_brief_needs_nothing(world: World, cast: Cast, clock: Traveller) -> None:
    Brief.objects.update(closed_at=dt.datetime(2026, 11, 1, tzinfo=dt.UTC))
    assert order_list(cast.school) == []


def test_without_patterns_half_of_the_largest_box_is_assumed(world: World, cast: Cast) -> None:
    (need,) = order_list(cast.school)
    assert need.guessed
    assert need.average_mm2 == pytest.approx(60 * 60 / 2)


def test_page_print_and_csv_say_the_same(world: World, cast: Cast) -> None:
    world.project(cast.seat)
    _price(world, cast)
    StockPiece.objects.update(state="reserved")
    browser = signed_in(cast.teacher)
    page = browser.get(reverse("rack_order")).content.decode()
    assert "96.00" in page
    assert f"line={world.metal.pk}%3A4%3A20.00%3A20.00" in page
    assert "96.00" in browser.get(reverse("rack_order_print")).content.decode()
    table = browser.get(reverse("rack_order_csv")).content.decode("utf-8-sig")
    assert table.splitlines()[1].endswith(",4,24.00,2026-11-01,96.00,USD")


@pytest.mark.parametrize("name", ["rack_order", "rack_order_print", "rack_order_csv"])
def test_four_people_ask_for_the_order_list(world: World, cast: Cast, name: str) -> None:
    url = reverse(name)
    assert "copper" in signed_in(cast.teacher).get(url).content.decode()
    assert "copper" in signed_in(cast.other_teacher).get(url).content.decode()
    assert signed_in(cast.owner).get(url).status_code == 403
    assert signed_in(cast.classmate).get(url).status_code == 403
    assert "copper" not in signed_in(cast.outsider).get(url).content.decode()


def test_more_briefs_take_as_many_queries(world: World, cast: Cast) -> None:
    world.project(cast.seat)
    url = reverse("rack_order")
    few = queries(signed_in(cast.teacher), url)
    for number in range(4):
        brief = Brief.objects.create(
            course=cast.course,
            title=f"More {number}",
            allowance=Decimal(5),
            created_by=cast.teacher,
        )
        brief.metals.add(world.metal)
        World(cast, brief, world.metal).project(cast.classmate_seat)
    assert queries(signed_in(cast.teacher), url) == few


@pytest.mark.parametrize(("projects", "said"), [(10.5, "about 11"), (0.5, "about 1"), (7.0, "7")])
def test_projects_are_told_in_round_numbers(
    world: World, cast: Cast, monkeypatch: pytest.MonkeyPatch, projects: float, said: str
) -> None:
    need = Need(world.metal, projects=projects, patterns_mm2=600.0 * projects)
    monkeypatch.setattr("studio.views.rack.order_list.order_list", lambda _: [need])
    page = signed_in(cast.teacher).get(reverse("rack_order")).content.decode()
    assert f'data-label="Projects to place" class="number">{said}</td>' in page
