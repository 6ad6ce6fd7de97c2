"""Supplies: what came, what closed plans used, what was counted, and how long one lasts."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.urls import reverse
from time_machine import Traveller

from classroom.refusals import Refused
from inventory.auditing import audit
from inventory.buying import supplying
from inventory.buying.supplying import learn
from inventory.models import Consumable, SupplyMovement
from inventory.queries import low_supplies_for
from studio.models import CutPlan, Quote
from studio.steps.rack.give_back import close_plan, every_offcut
from tests.people import Cast, signed_in
from tests.studio.bench.making import World, make_it
from tests.studio.plans.making import queries


@pytest.fixture
def blades(world: World) -> Consumable:
    return Consumable.objects.get(kind="blade")


def _close(world: World, clock: Traveller, cast: Cast) -> CutPlan:
    project = world.project(cast.seat)
    plan = world.issued(project)
    make_it(project, clock, cast)
    close_plan(plan, acting=cast.teacher, offcuts_kept=every_offcut(plan), scrap_mass_g=Decimal(1))
    return plan


def test_a_closed_plan_takes_off_what_its_projects_sawed(
    world: World, clock: Traveller, cast: Cast, blades: Consumable
) -> None:
    supplying.count(blades, Decimal(100), acting=cast.teacher, reason="start")
    plan = _close(world, clock, cast)
    sawn_mm = Decimal(str(Quote.objects.get(kind="settled").rates["saw_line_mm"]))
    used = SupplyMovement.objects.get(kind="use")
    assert used.cause == f"cutplan:{plan.pk}"
    assert used.measure == (sawn_mm / 10).quantize(Decimal("0.01"))
    assert used.amount == -(used.measure / 20).quantize(Decimal("0.0001"))  # 20 cm a blade
    blades.refresh_from_db()
    assert blades.on_hand == 100 + used.amount
    assert list(audit(cast.school)) == []


def test_what_nobody_keeps_count_of_gets_no_entries(
    world: World, clock: Traveller, cast: Cast
) -> None:
    _close(world, clock, cast)
    assert SupplyMovement.objects.count() == 0
    assert list(audit(cast.school)) == []


def test_a_count_makes_up_the_difference(cast: Cast, world: World, blades: Consumable) -> None:
    supplying.receive(blades, Decimal(144), acting=cast.teacher, reason="a gross")
    entry = supplying.count(blades, Decimal(140), acting=cast.teacher, reason="counted")
    assert entry.amount == -4
    blades.refresh_from_db()
    assert blades.on_hand == 140
    with pytest.raises(Refused, match="more than none"):
        supplying.receive(blades, Decimal(0), acting=cast.teacher, reason="none")
    with pytest.raises(Refused, match="has a reason"):
        supplying.receive(blades, Decimal(1), acting=cast.teacher, reason=" ")


def _rows(*rows: tuple[str, str, str, str]) -> list[tuple[str, Decimal, Decimal, Decimal]]:
    """Kind, amount, counted, measure; "" for none."""
    made = []
    for kind, amount, counted, measure in rows:
        made.append(
            (
                kind,
                Decimal(amount),
                Decimal(counted) if counted else None,
                Decimal(measure) if measure else None,
            )
        )
    return made  # type: ignore[return-value]


def test_a_blades_life_is_the_work_between_counts_over_the_blades_gone() -> None:
    # 100 there, 44 came, 120 there: 24 are gone, for 150 + 90 cm: 10 cm each.
    found = learn(
        _rows(  # type: ignore[arg-type]
            ("use", "-9", "", "999"),  # before the first count: teaches nothing
            ("count", "100", "100", ""),
            ("use", "-7.5", "", "150"),
            ("receive", "44", "", ""),
            ("use", "-4.5", "", "90"),
            ("count", "-12", "120", ""),
            ("use", "-1", "", "20"),  # no count after it
        )
    )
    assert found is not None
    assert (found.lasts, found.counts, found.plans) == (Decimal("10.00"), 1, 2)


def test_a_stretch_in_which_nothing_went_or_nothing_was_sawn_teaches_nothing() -> None:
    assert learn(_rows(("count", "9", "9", ""), ("count", "-2", "7", ""))) is None  # type: ignore[arg-type]
    assert (
        learn(
            _rows(  # type: ignore[arg-type]
                ("count", "9", "9", ""), ("use", "-1", "", "20"), ("count", "1", "9", "")
            )
        )
        is None
    )


def test_what_was_learned_is_taken_over_as_the_rate(
    world: World, clock: Traveller, cast: Cast, blades: Consumable
) -> None:
    with pytest.raises(Refused, match="Nothing has been learned yet"):
        supplying.take_over(blades, acting=cast.teacher)
    supplying.count(blades, Decimal(100), acting=cast.teacher, reason="start")
    _close(world, clock, cast)
    supplying.count(blades, Decimal(98), acting=cast.teacher, reason="end")
    page = reverse("supply_edit", args=[blades.pk])
    assert "1 closed plan." in signed_in(cast.teacher).get(page).content.decode()
    sawn = SupplyMovement.objects.get(kind="use").measure
    assert sawn is not None
    signed_in(cast.teacher).post(reverse("supply_learn", args=[blades.pk]))
    blades.refresh_from_db()
    assert blades.uses_per_unit == (sawn / 2).quantize(Decimal("0.01"))


def test_supplies_that_run_low_are_asked_for(cast: Cast, world: World, blades: Consumable) -> None:
    blades.reorder_at = Decimal(24)
    blades.save()
    assert list(low_supplies_for(cast.teacher)) == []  # never counted
    supplying.count(blades, Decimal(25), acting=cast.teacher, reason="counted")
    assert list(low_supplies_for(cast.teacher)) == []
    supplying.count(blades, Decimal(24), acting=cast.teacher, reason="counted")
    assert list(low_supplies_for(cast.teacher)) == [blades]
    assert list(low_supplies_for(cast.outsider)) == []
    assert "order more" in signed_in(cast.teacher).get(reverse("supplies")).content.decode()


def test_the_page_books_what_came_and_what_was_counted(
    cast: Cast, world: World, blades: Consumable
) -> None:
    browser = signed_in(cast.teacher)
    address = reverse("supply_stock", args=[blades.pk])
    form = {"what": "receive", "number": "144", "reason": "a gross"}
    assert browser.post(address, form).status_code == 302
    assert browser.post(address, form | {"what": "count", "number": "140"}).status_code == 302
    blades.refresh_from_db()
    assert blades.on_hand == 140
    assert browser.post(address, form | {"number": "-1"}).status_code == 200
    text = browser.get(reverse("supply_edit", args=[blades.pk])).content.decode()
    assert "counted: 140" in text


@pytest.mark.parametrize("name", ["supply_stock", "supply_learn"])
def test_four_people_at_the_supplies(
    cast: Cast, world: World, blades: Consumable, name: str
) -> None:
    address = reverse(name, args=[blades.pk])
    for person, expected in (
        (cast.teacher, {200, 409}),
        (cast.other_teacher, {200, 409}),
        (cast.owner, {403}),
        (cast.classmate, {403}),
        (cast.outsider, {404}),
    ):
        assert signed_in(person).post(address).status_code in expected, person


def test_a_longer_history_takes_as_many_queries(
    cast: Cast, world: World, blades: Consumable
) -> None:
    page = reverse("supply_edit", args=[blades.pk])
    supplying.receive(blades, Decimal(1), acting=cast.teacher, reason="came")
    few = queries(signed_in(cast.teacher), page)
    for _ in range(6):
        supplying.receive(blades, Decimal(1), acting=cast.teacher, reason="came")
    assert queries(signed_in(cast.teacher), page) == few
