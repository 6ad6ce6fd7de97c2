"""Pieces are added to metal at the bench: who may, until when, at which price, and to which end."""

from __future__ import annotations

from decimal import Decimal
from unittest.mock import patch

import pytest

from classroom.refusals import Refused
from inventory.auditing import audit
from inventory.models import StockPiece
from studio.auditing import audit_plans
from studio.core.verifying import faults
from studio.models import CutPlan, Project
from studio.steps.plans.adding import why_not_add
from studio.steps.plans.approve import approve_plan
from studio.steps.plans.drop import drop_plan
from studio.steps.plans.issue import issue_plan
from studio.steps.plans.place import place_again
from studio.steps.plans.quote import planned_total
from studio.steps.rack.give_back import at_the_bench, close_plan, every_offcut
from tests.people import Cast
from tests.studio.bench.making import make_world
from tests.studio.plans.added import (
    add,
    added_and_issued,
    another,
    laid,
    start,
)


def test_added_pieces_keep_off_what_lies_there_and_pay_what_they_use_up(cast: Cast) -> None:
    world = make_world(cast, sheets=1)
    base = world.issued(world.project(cast.seat))
    before = base.quotes.get()
    more = another(world)
    plan = laid(add(base, more, cast.owner))
    assert plan.laid is not None
    assert base.laid is not None
    assert faults(plan.asked, plan.laid.placements) == ()
    assert set(base.laid.placements) < set(plan.laid.placements)
    quote = plan.quotes.get()
    assert quote.project == more
    # Together they cost the sheet less what would come back of it now, to the cent.
    sheet = StockPiece.objects.get(code=plan.touched_codes[0])
    kept = sum(Decimal(cost) for cost in quote.rates["stock"][sheet.code]["offcut_costs"])
    assert before.metal_total + quote.metal_total == sheet.cost - kept
    assert quote.metal_total > 0
    assert base.quotes.get().total == before.total


def test_an_addition_reserves_nothing_and_ends_with_its_metal(cast: Cast) -> None:
    world = make_world(cast, sheets=1)
    first = world.project(cast.seat)
    base = world.issued(first)
    more, plan = added_and_issued(world, base)
    assert StockPiece.objects.get(code=plan.touched_codes[0]).state == "issued"
    assert plan.reserved.get().addition
    assert more.bench_steps.exists()
    assert [*audit(), *audit_plans()] == []
    with pytest.raises(Refused, match="closed with it"):
        close_plan(plan, acting=cast.teacher, offcuts_kept={}, scrap_mass_g=Decimal(0))
    Project.objects.filter(pk__in=[first.pk, more.pk]).update(stage=Project.Stage.MADE)
    whole = at_the_bench(base)
    assert {project.pk for project in whole.made} == {first.pk, more.pk}
    close_plan(
        base,
        acting=cast.teacher,
        offcuts_kept=every_offcut(base),
        scrap_mass_g=Decimal(1),
        overdraw_reason="used more",
    )
    plan.refresh_from_db()
    assert plan.state == CutPlan.State.CLOSED
    assert not plan.reserved.filter(live=True).exists()
    paid = [one.quotes.get(kind="settled") for one in (base, plan)]
    sheet = StockPiece.objects.get(code=plan.touched_codes[0])
    back = sum(piece.cost for piece in sheet.offcuts.all())
    assert sum(quote.metal_total for quote in paid) == sheet.cost - back
    assert [*audit(), *audit_plans()] == []


def test_new_papers_open_sticking_and_drying_of_what_lies_there(cast: Cast) -> None:
    world = make_world(cast, sheets=1)
    first = world.project(cast.seat)
    base = world.issued(first)
    start(first, "prepare", "adhere", "dry")
    added_and_issued(world, base)
    now = {step.kind: step for step in first.bench_steps.all()}
    assert now["prepare"].done_at is not None
    for kind in ("adhere", "dry"):
        assert now[kind].started_at is None
        assert now[kind].done_at is None
        assert now[kind].sign_offs.get().kind == "sent_back"


def test_nothing_is_added_once_an_outline_is_sawn(cast: Cast) -> None:
    world = make_world(cast, sheets=1)
    first = world.project(cast.seat)
    base = world.issued(first)
    assert why_not_add(base) == ""
    plan = laid(add(base, another(world), cast.owner))
    approve_plan(plan, acting=cast.teacher)
    start(first, "saw")
    with pytest.raises(Refused, match="sawn"):
        issue_plan(plan, acting=cast.teacher)
    drop_plan(plan, acting=cast.teacher)
    with pytest.raises(Refused, match="Bring back what is left first"):
        add(base, another(world), cast.owner)
    assert [*audit(), *audit_plans()] == []


def test_only_the_holder_adds_and_one_at_a_time(cast: Cast) -> None:
    world = make_world(cast, sheets=1)
    base = world.issued(world.project(cast.seat))
    with pytest.raises(Refused, match="another student"):
        add(base, another(world, cast.classmate_seat), cast.teacher)
    with pytest.raises(Refused, match="your own"):
        add(base, another(world), cast.classmate)
    plan = add(base, another(world), cast.teacher)
    with pytest.raises(Refused, match="Other pieces are being added"):
        add(base, another(world), cast.owner)
    with patch("studio.steps.plans.adding.place_plan"):
        again = place_again(laid(plan), acting=cast.teacher)
    assert again.adds_to == base
    plan.refresh_from_db()
    assert plan.state == CutPlan.State.DROPPED


def test_metal_of_several_students_takes_no_additions(cast: Cast) -> None:
    world = make_world(cast, sheets=1)
    base = world.issued(world.project(cast.seat), world.project(cast.classmate_seat))
    with pytest.raises(Refused, match="one student's alone"):
        add(base, another(world), cast.owner)


def test_a_dropped_addition_leaves_metal_and_money_as_they_were(cast: Cast) -> None:
    world = make_world(cast, sheets=1)
    base = world.issued(world.project(cast.seat))
    more = another(world)
    plan = laid(add(base, more, cast.owner))
    approve_plan(plan, acting=cast.teacher)
    assert planned_total(plan) > 0
    drop_plan(plan, acting=cast.teacher)
    more.refresh_from_db()
    assert more.stage == Project.Stage.PATTERN_APPROVED
    assert StockPiece.objects.get(code=base.touched_codes[0]).state == "issued"
    assert [*audit(), *audit_plans()] == []


def test_metal_that_goes_back_takes_a_waiting_addition_with_it(cast: Cast) -> None:
    world = make_world(cast, sheets=1)
    first = world.project(cast.seat)
    base = world.issued(first)
    plan = laid(add(base, another(world), cast.owner))
    Project.objects.filter(pk=first.pk).update(stage=Project.Stage.MADE)
    close_plan(base, acting=cast.teacher, offcuts_kept=every_offcut(base), scrap_mass_g=Decimal(1))
    plan.refresh_from_db()
    assert plan.state == CutPlan.State.DROPPED
    assert [*audit(), *audit_plans()] == []
