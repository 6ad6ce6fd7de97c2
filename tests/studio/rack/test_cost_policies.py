"""Three ways to charge for metal. Whatever the rule, the budget bears what the metal costs."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import box
from time_machine import Traveller

from inventory.auditing import audit
from inventory.models import Budget
from inventory.spending import ledger
from studio.auditing import audit_plans
from studio.core.pricing.shares import BenchUse, CostPolicy, MetalUse, Rates, WasteRule, quote
from studio.models import CutPlan, Project, Quote
from studio.steps.plans.quote import course_share, planned_total
from studio.steps.rack.give_back import close_plan, every_offcut
from tests.people import Cast, signed_in
from tests.studio.bench.making import WITH_WINDOW, World, make_it

AREA = st.decimals(min_value=0, max_value=5000, places=2)


@given(
    rule=st.sampled_from(WasteRule),
    price=st.decimals(min_value=0, max_value=1, places=5),
    rows=st.lists(st.tuples(AREA, AREA), min_size=1, max_size=6),
    waste=AREA,
)
def test_projects_and_course_together_bear_exactly_the_metal(
    rule: WasteRule, price: Decimal, rows: list[tuple[Decimal, Decimal]], waste: Decimal
) -> None:
    pieces = {str(number): own for number, (own, _) in enumerate(rows)}
    rectangles = {str(number): around for number, (_, around) in enumerate(rows)}
    use = MetalUse("sheet", price, sum(pieces.values(), Decimal(0)) + waste, pieces, rectangles)
    found = quote(
        [use], {name: BenchUse() for name in pieces}, Rates(), CostPolicy(rule, consumables=False)
    )
    assert sum((one.total for one in found.projects), found.school) == found.metal
    for one in found.projects:
        area = rectangles[one.project] if rule is WasteRule.RECTANGLE else pieces[one.project]
        if rule is WasteRule.SHARED:
            assert found.school == 0
        else:
            assert abs(one.metal - area * price) < Decimal("0.02")


def _choose(cast: Cast, policy: str) -> None:
    ledger.choose_policy(ledger.open_budget(cast.course), policy, acting=cast.teacher)


def _plan(world: World, cast: Cast) -> CutPlan:
    return world.plan([world.project(cast.seat), world.project(cast.classmate_seat)])


def _metal(plan: CutPlan) -> list[Decimal]:
    return [one.metal_total for one in plan.quotes.order_by("project_id")]


def test_the_same_plan_costs_the_course_the_same_under_every_rule(world: World, cast: Cast) -> None:
    totals = {}
    for policy in Budget.CostPolicy.values:
        _choose(cast, policy)
        plan = _plan(world, cast)
        totals[policy] = planned_total(plan)
        plan.shares.update(live=False)
        Project.objects.update(stage="closed")
        for project in Project.objects.all():
            project.patterns.update(state="replaced")
        world.brief.pk = None
        world.brief._state.adding = True
        world.brief.save()
    assert len(set(totals.values())) == 1, totals


def test_net_only_leaves_the_waste_to_the_course(world: World, cast: Cast) -> None:
    _choose(cast, "school")
    plan = _plan(world, cast)
    per_mm2 = Decimal("24.00") / (120 * 80)
    each = (Decimal(str(WITH_WINDOW.area)) * per_mm2).quantize(Decimal("0.01"))
    assert _metal(plan) == [each, each]
    share = course_share(list(plan.quotes.all()))
    assert share > 0
    lines = plan.quotes.first().lines.values_list("kind", flat=True)  # type: ignore[union-attr]
    assert "waste" not in lines


def test_the_rectangle_is_as_drawn_and_3_mm_longer_on_both_sides(world: World, cast: Cast) -> None:
    _choose(cast, "rectangle")
    plan = _plan(world, cast)
    per_mm2 = Decimal("24.00") / (120 * 80)
    each = (33 * 23 * per_mm2).quantize(Decimal("0.01"))  # 30 × 20 with 3 mm more each
    assert all(abs(one - each) <= Decimal("0.01") for one in _metal(plan))


@pytest.mark.parametrize("policy", Budget.CostPolicy.values)
@pytest.mark.parametrize("given_up", [False, True])
def test_under_every_rule_a_plan_is_approved_closed_and_adds_up(
    world: World, cast: Cast, clock: Traveller, policy: str, given_up: bool
) -> None:
    _choose(cast, policy)
    first, second = world.project(cast.seat), world.project(cast.classmate_seat, box(0, 0, 20, 20))
    plan = world.issued(first, second)
    budget = ledger.open_budget(cast.course)
    assert budget.charged == planned_total(plan)
    make_it(first, clock, cast)
    if not given_up:
        make_it(second, clock, cast)
    back = close_plan(
        plan,
        acting=cast.teacher,
        offcuts_kept=every_offcut(plan),
        scrap_mass_g=Decimal(1),
        given_up_reason="left the class" if given_up else "",
    )
    settled = list(Quote.objects.filter(kind="settled"))
    share = course_share(settled)
    assert str(share) == back.balance["money"]["course_share"]
    assert sum(one.metal_total for one in settled) + share == Decimal(
        back.balance["money"]["metal"]
    )
    assert [*audit(), *audit_plans()] == []


def test_a_plan_already_priced_keeps_its_rule(world: World, cast: Cast, clock: Traveller) -> None:
    project = world.project(cast.seat)
    plan = world.issued(project)
    _choose(cast, "school")
    make_it(project, clock, cast)
    close_plan(plan, acting=cast.teacher, offcuts_kept=every_offcut(plan), scrap_mass_g=Decimal(1))
    assert course_share(list(Quote.objects.filter(kind="settled"))) == 0
    assert [*audit(), *audit_plans()] == []


def test_the_plan_page_shows_what_the_course_bears_and_says_the_rule(
    world: World, cast: Cast
) -> None:
    _choose(cast, "school")
    plan = _plan(world, cast)
    url = reverse("plan", args=[plan.pk])
    text = signed_in(cast.teacher).get(url).content.decode()
    assert "Borne by the course" in text
    assert "is borne by the course" in text
    own = signed_in(cast.owner).get(url).content.decode()
    assert "is borne by the course" in own


def test_the_rule_is_chosen_on_the_budget_page(world: World, cast: Cast) -> None:
    url = reverse("budget_policy", args=[cast.course.pk])
    assert signed_in(cast.teacher).post(url, {"policy": "rectangle"}).status_code == 302
    assert Budget.objects.get().cost_policy == "rectangle"
    assert signed_in(cast.teacher).post(url, {"policy": "free"}).status_code == 200
    for person, expected in (
        (cast.other_teacher, 404),
        (cast.owner, 403),
        (cast.classmate, 403),
        (cast.outsider, 404),
    ):
        assert signed_in(person).post(url, {"policy": "shared"}).status_code == expected
    assert Budget.objects.get().cost_policy == "rectangle"
