"""The metal comes back: rack, scrap box, balance, money and projects, all of it or nothing."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.db import transaction
from django.db.models import Sum
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from classroom.models import History, subject_of
from classroom.refusals import Refused
from inventory.models import Budget, BudgetEntry, ScrapEntry, StockMovement, StockPiece
from inventory.spending import ledger
from studio.models import CutPlan, PlanStock, Project, Quote, Return
from studio.steps.bench.sign import sign_done, start_step
from studio.steps.rack.give_back import Kept, at_the_bench, close_plan, every_offcut
from tests.studio.bench.making import World, give_permits, step_of

GRAMS = Decimal("2.50")


@pytest.fixture
def both(world: World) -> tuple[CutPlan, Project, Project]:
    """Two made projects on one sheet."""
    owner, classmate = world.project(world.cast.seat), world.project(world.cast.classmate_seat)
    plan = world.issued(owner, classmate)
    finish(owner, classmate)
    return plan, owner, classmate


def finish(*projects: Project) -> None:
    """Signing every step is another file's matter."""
    made = Project.objects.filter(pk__in=[project.pk for project in projects])
    made.update(stage=Project.Stage.MADE)


def close(world: World, plan: CutPlan, kept: Kept | None = None, **more: object) -> Return:
    return close_plan(
        plan,
        acting=world.cast.teacher,
        offcuts_kept=every_offcut(plan) if kept is None else kept,
        scrap_mass_g=GRAMS,
        **more,  # type: ignore[arg-type]
    )


def settled_metal(plan: CutPlan) -> Decimal:
    quotes = plan.quotes.filter(kind=Quote.Kind.SETTLED)
    return sum((quote.metal_total for quote in quotes), Decimal(0))


def really_used(world: World) -> Decimal:
    """What the used-up stock pieces cost, less what their offcuts carry back to the rack."""
    gone = StockPiece.objects.filter(state="gone")
    used = sum((piece.cost for piece in gone), Decimal(0))
    offcuts = StockPiece.objects.filter(parent__in=gone)
    return used - sum((piece.cost for piece in offcuts), Decimal(0))


def net_charge(plan: CutPlan) -> Decimal:
    entries = BudgetEntry.objects.filter(cause=subject_of(plan))
    charged = entries.filter(kind="charge").aggregate(t=Sum("amount"))["t"] or Decimal(0)
    credited = entries.filter(kind="credit").aggregate(t=Sum("amount"))["t"] or Decimal(0)
    return Decimal(str(charged - credited)).quantize(Decimal("0.01"))


def test_offcuts_go_to_the_rack_with_the_outline_the_plan_leaves(
    world: World, both: tuple[CutPlan, Project, Project]
) -> None:
    plan = both[0]
    leaves = at_the_bench(plan).leaves
    close(world, plan, place="Drawer 2")
    sheet = world.sheets[0]
    sheet.refresh_from_db()
    assert sheet.state == "gone"
    offcut = StockPiece.objects.get(parent=sheet)
    assert (offcut.state, offcut.place) == ("rack", "Drawer 2")
    assert float(offcut.area_mm2) == pytest.approx(leaves[0].area_mm2, abs=0.5)
    assert offcut.code not in {sheet.code, world.sheets[1].code}


def test_plan_projects_and_reservation_are_closed(
    world: World, both: tuple[CutPlan, Project, Project]
) -> None:
    plan, owner, classmate = both
    close(world, plan, remark="all fine")
    plan.refresh_from_db()
    assert (plan.state, plan.closed_by) == (CutPlan.State.CLOSED, world.cast.teacher)
    for project in (owner, classmate):
        project.refresh_from_db()
        assert project.stage == Project.Stage.CLOSED
    assert not PlanStock.objects.filter(live=True).exists()
    history = History.objects.about(plan).first()
    assert history is not None
    assert (history.verb, history.detail["remark"]) == ("plan-closed", "all fine")
    assert plan.metal_return.remark == "all fine"


def test_scrap_goes_into_the_alloys_box_as_weighed(
    world: World, both: tuple[CutPlan, Project, Project]
) -> None:
    close(world, both[0])
    entry = ScrapEntry.objects.get()
    assert (entry.alloy_code, entry.mass_g, entry.cause) == (
        "C11000",
        GRAMS,
        subject_of(both[0]),
    )


def test_as_planned_costs_as_planned(world: World, both: tuple[CutPlan, Project, Project]) -> None:
    plan = both[0]
    before = net_charge(plan)
    written = close(world, plan).balance
    assert written["money"]["difference"] == "0.00"
    assert net_charge(plan) == before
    planned = list(plan.quotes.filter(kind="planned").order_by("project").values_list("total"))
    settled = list(plan.quotes.filter(kind="settled").order_by("project").values_list("total"))
    assert planned == settled
    assert settled_metal(plan) == really_used(world)


def test_an_offcut_not_kept_is_charged(
    world: World, both: tuple[CutPlan, Project, Project]
) -> None:
    plan = both[0]
    before = net_charge(plan)
    close(world, plan, {})
    assert not StockPiece.objects.filter(parent=world.sheets[0]).exists()
    assert settled_metal(plan) == really_used(world) == Decimal("24.00")
    total = plan.quotes.filter(kind="settled").aggregate(t=Sum("total"))["t"]
    assert net_charge(plan) == Decimal(str(total)).quantize(Decimal("0.01")) > before


def test_an_offcut_that_came_back_smaller_counts_with_its_size(
    world: World, both: tuple[CutPlan, Project, Project]
) -> None:
    plan = both[0]
    key = at_the_bench(plan).leaves[0].key
    written = close(world, plan, {key: (Decimal(60), Decimal(40))}).balance
    assert StockPiece.objects.get(parent=world.sheets[0]).area_mm2 == Decimal("2400.00")
    assert written["area_mm2"]["offcuts"] == 2400
    assert settled_metal(plan) == really_used(world)


def test_a_cheaper_end_is_credited(world: World) -> None:
    """Two sheets, one project given up before anything was sawn: its sheet comes back whole."""
    owner, classmate = world.project(world.cast.seat), world.project(world.cast.classmate_seat)
    plan = world.issued(
        owner, classmate, sheets=world.sheets, places=[(2.0, 2.0), (2.0, 2.0)], on=[0, 1]
    )
    finish(owner)
    before = net_charge(plan)
    written = close(world, plan, given_up_reason="moved to another school").balance
    other = StockPiece.objects.get(pk=world.sheets[1].pk)
    assert (other.state, other.cost) == ("rack", Decimal("24.00"))
    assert net_charge(plan) < before
    assert settled_metal(plan) == really_used(world)
    assert plan.quotes.get(project=classmate, kind="settled").total == 0
    assert written["given_up"] == [classmate.pk]
    assert BudgetEntry.objects.filter(kind="credit", cause=subject_of(plan)).count() == 1
    assert written["area_mm2"]["unexplained"] == 0


def test_a_project_given_up_pays_the_consumables_of_the_steps_it_began(
    world: World,
) -> None:
    owner, classmate = world.project(world.cast.seat), world.project(world.cast.classmate_seat)
    plan = world.issued(
        owner, classmate, sheets=world.sheets, places=[(2.0, 2.0), (2.0, 2.0)], on=[0, 1]
    )
    finish(owner)
    give_permits(world.cast, world.cast.classmate)
    start_step(step_of(classmate, "prepare"), acting=classmate.student)
    sign_done(step_of(classmate, "prepare"), acting=classmate.student)
    start_step(step_of(classmate, "adhere"), acting=classmate.student)
    close(world, plan, given_up_reason="ill until the end of term")
    lines = plan.quotes.get(project=classmate, kind="settled").lines
    paid = [line.kind for line in lines.all() if line.amount]
    assert paid == ["adhesive"]


def test_mass_balance_shows_what_the_scales_say_differently(
    world: World, both: tuple[CutPlan, Project, Project]
) -> None:
    """0.813 mm of copper at 8.89 to 8.94 g/cm3, as mill data sheets print it (verified)."""
    written = close(world, both[0]).balance
    areas, masses = written["area_mm2"], written["mass_g"]
    assert masses["out"] == pytest.approx(areas["out"] * 0.813 * 8.915 / 1000, rel=0.003)
    assert masses["scrap_weighed"] == 2.5
    assert masses["unexplained"] == pytest.approx(2.5 - masses["scrap_expected"], abs=1e-3)
    parts = masses["pieces"] + masses["offcuts"] + masses["kerf"] + masses["scrap_expected"]
    assert masses["out"] == pytest.approx(parts, abs=0.01)


def test_closing_again_changes_nothing(
    world: World, both: tuple[CutPlan, Project, Project]
) -> None:
    plan = both[0]
    first = close(world, plan)
    counts = [BudgetEntry.objects.count(), StockMovement.objects.count(), Quote.objects.count()]
    again = close_plan(plan, acting=world.cast.teacher, offcuts_kept={}, scrap_mass_g=Decimal(99))
    assert again.pk == first.pk
    assert counts == [
        BudgetEntry.objects.count(),
        StockMovement.objects.count(),
        Quote.objects.count(),
    ]
    assert ScrapEntry.objects.count() == 1


def refused_close(world: World, plan: CutPlan, kept: Kept | None = None, **more: object) -> str:
    before = [BudgetEntry.objects.count(), StockMovement.objects.count(), History.objects.count()]
    state = CutPlan.objects.get(pk=plan.pk).state
    with pytest.raises(Refused) as refusal:
        close(world, plan, kept, **more)
    assert CutPlan.objects.get(pk=plan.pk).state == state
    assert not Return.objects.exists()
    assert not Quote.objects.filter(kind="settled").exists()
    assert before == [
        BudgetEntry.objects.count(),
        StockMovement.objects.count(),
        History.objects.count(),
    ]
    return str(refusal.value)


def test_refused_while_a_project_is_not_made(
    world: World, both: tuple[CutPlan, Project, Project]
) -> None:
    plan, _, classmate = both
    Project.objects.filter(pk=classmate.pk).update(stage=Project.Stage.AT_BENCH)
    text = refused_close(world, plan)
    assert text.startswith("Not made yet: Odd F. Wait until the last step is signed")


def test_a_reason_gives_up_what_is_not_made(
    world: World, both: tuple[CutPlan, Project, Project]
) -> None:
    plan, owner, classmate = both
    Project.objects.filter(pk=classmate.pk).update(stage=Project.Stage.AT_BENCH)
    close(world, plan, given_up_reason="left the course")
    classmate.refresh_from_db()
    assert classmate.stage == Project.Stage.CLOSED
    verbs = {row.verb: row.detail for row in History.objects.about(classmate)}
    assert verbs["project-given-up"]["why"] == "left the course"
    assert not History.objects.about(owner).filter(verb="project-given-up").exists()


@pytest.mark.parametrize("reason", ["", "  "])
def test_giving_up_needs_a_reason(
    world: World, both: tuple[CutPlan, Project, Project], reason: str
) -> None:
    plan, _, classmate = both
    Project.objects.filter(pk=classmate.pk).update(stage=Project.Stage.AT_BENCH)
    assert "with a reason" in refused_close(world, plan, given_up_reason=reason)


def test_refused_before_the_metal_is_handed_out(world: World) -> None:
    plan = world.approved(world.project(world.cast.seat))
    assert "has to be handed out first" in refused_close(world, plan)


def test_refused_for_a_dropped_plan(world: World, both: tuple[CutPlan, Project, Project]) -> None:
    plan = both[0]
    CutPlan.objects.filter(pk=plan.pk).update(state=CutPlan.State.DROPPED)
    assert "cannot be closed: it is dropped" in refused_close(world, plan)


def test_refused_for_an_offcut_that_the_plan_does_not_leave(
    world: World, both: tuple[CutPlan, Project, Project]
) -> None:
    text = refused_close(world, both[0], {"CU-9.99-001/7": None})
    assert "has changed since the page was loaded" in text


def test_refused_for_an_offcut_larger_than_what_the_plan_leaves(
    world: World, both: tuple[CutPlan, Project, Project]
) -> None:
    key = at_the_bench(both[0]).leaves[0].key
    text = refused_close(world, both[0], {key: (Decimal(300), Decimal(40))})
    assert "a larger one cannot have come back" in text


@pytest.mark.parametrize("grams", ["-0.01", "NaN", "Infinity", "100000.01"])
def test_refused_for_a_weight_that_cannot_be(
    world: World, both: tuple[CutPlan, Project, Project], grams: str
) -> None:
    with pytest.raises(Refused, match="weight in grams"):
        close_plan(
            both[0],
            acting=world.cast.teacher,
            offcuts_kept=every_offcut(both[0]),
            scrap_mass_g=Decimal(grams),
        )
    assert not Return.objects.exists()


def test_more_than_the_budget_holds_is_refused_whole_and_mended_by_a_reason(
    world: World, both: tuple[CutPlan, Project, Project]
) -> None:
    plan = both[0]
    budget = ledger.open_budget(world.cast.course)
    ledger.allot(budget, -budget.left, acting=world.cast.teacher, reason="end of term")
    text = refused_close(world, plan, {})
    assert "Over budget" in text
    close(world, plan, {}, overdraw_reason="the offcut was stolen")
    budget.refresh_from_db()
    assert budget.left < 0
    assert ledger.audit(budget) == []


@settings(
    max_examples=25,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(data=st.data())
def test_settled_money_is_what_was_really_used_to_the_cent(
    world: World, both: tuple[CutPlan, Project, Project], data: st.DataObject
) -> None:
    """Whatever was kept, made smaller, scrapped or given up, at whatever price of the sheet."""
    plan, owner, classmate = both
    with transaction.atomic():
        cost = data.draw(st.decimals("0.01", "400", places=2))
        StockPiece.objects.filter(pk=world.sheets[0].pk).update(cost=cost)
        for project in (owner, classmate):
            if data.draw(st.booleans()):
                Project.objects.filter(pk=project.pk).update(stage=Project.Stage.AT_BENCH)
        kept: dict[str, tuple[Decimal, Decimal] | None] = {}
        for leaf in at_the_bench(plan).leaves:
            size = st.tuples(st.decimals("5", "60", places=1), st.decimals("5", "30", places=1))
            fate = data.draw(st.one_of(st.none(), st.just("scrap"), size))
            if fate != "scrap":
                kept[leaf.key] = fate  # type: ignore[assignment]
        written = close(world, plan, kept, given_up_reason="tried").balance
        assert settled_metal(plan) == really_used(world)
        assert net_charge(plan) == Decimal(written["money"]["settled"])
        assert abs(written["area_mm2"]["unexplained"]) <= 1
        budget = Budget.objects.get(course=world.cast.course)
        assert ledger.audit(budget) == []
        for quote in plan.quotes.filter(kind="settled"):
            assert sum((line.amount for line in quote.lines.all()), Decimal(0)) == quote.total
        transaction.set_rollback(True)
    plan.refresh_from_db()
