"""A plan's page takes parts of it by name: each name that can be made has its template."""

from __future__ import annotations

import ast
import inspect
from collections.abc import Iterator
from dataclasses import replace
from itertools import product
from pathlib import Path

import pytest
from django.template.loader import get_template
from shapely.geometry import box

from classroom.models import Role, User
from studio.core.cutting import Hands, Job, Placement, Plan, Stock, Wanted
from studio.core.picturing.why import SPEAKS_AGAINST, SPEAKS_FOR
from studio.core.verifying import measure
from studio.models import CutPlan, PlacingJob
from studio.views.plans import decision, reasons, shown

State = CutPlan.State
STATES = pytest.mark.parametrize("state", State.values)
PARTS = Path(__file__).resolve().parents[3] / "templates" / "studio" / "plans"


def parts_in(folder: str) -> set[str]:
    """Parts that are taken by a name that is put together; those with a stroke in front are not."""
    return {path.stem for path in (PARTS / folder).glob("[!_]*.html")}


def decisions(state: str) -> Iterator[decision.Decision]:
    """All that a teacher may be asked about a plan in this state."""
    for rival, partial, taken, failed in product((False, True), repeat=4):
        plan = CutPlan(state=state, rival_of_id=1 if rival else None)
        job = PlacingJob.State.FAILED if failed else PlacingJob.State.RUNNING
        plan._state.fields_cache["placing"] = PlacingJob(plan=plan, state=job)
        yield decision.decision_on(plan, partial=partial, taken=taken)


@STATES
def test_every_state_of_a_plan_has_its_decision(state: str) -> None:
    for one in decisions(state):
        assert one.title
        get_template(one.template)


def test_no_decision_is_there_in_vain() -> None:
    asked = {one.state for state in State.values for one in decisions(state)}
    assert asked == set(decision.TITLES) == parts_in("decide")


@STATES
def test_every_state_of_a_plan_has_its_words_and_its_page(state: str) -> None:
    assert all(shown.WORDS[state])
    for role in Role:
        get_template(shown._body_template(User(role=role), CutPlan(state=state)))


def test_every_figure_that_is_compared_has_its_part() -> None:
    made = [
        node
        for node in ast.walk(ast.parse(inspect.getsource(reasons.compared)))
        if isinstance(node, ast.Call) and ast.unparse(node.func) == "Figure"
    ]
    kinds = {ast.literal_eval(node.args[1]) for node in made}
    assert kinds == parts_in("figures")
    for kind in kinds:
        get_template(reasons.Figure("", kind, (1, 2), None).template)


def test_every_reason_for_or_against_a_plan_has_its_sentence() -> None:
    assert parts_in("why") == {*SPEAKS_FOR, *SPEAKS_AGAINST}
    for code in (*SPEAKS_FOR, *SPEAKS_AGAINST):
        get_template(f"studio/plans/why/{code}.html")


def test_a_wide_gap_makes_no_plan_look_better_and_unused_metal_sets_no_rule() -> None:
    tag = Wanted("d", box(0, 0, 20, 20), 2)
    clean, rough = (
        Stock("S1", box(0, 0, 100, 80)),
        Stock("S2", box(0, 0, 50, 50), clean_edges=False),
    )
    job = Job((clean, rough), (tag,), edge_margin_mm=2.0, hands=Hands(1.0, 0.5), worth="two")
    laid = tuple(Placement("d", k, "S1", False, 0.0, 24.0 * k, 0.0) for k in range(2))
    figures, offcuts = measure(job, laid)
    plan = Plan(laid, (), figures, offcuts, 1, 0.1, 1, by_hand=True)
    one = reasons.reasons_of(job, plan)
    assert one.boxes_mm2 == pytest.approx(2 * 20.3**2)
    wider = replace(job, hands=Hands(3.0, 0.5))
    assert reasons.reasons_of(wider, plan).boxes_mm2 == one.boxes_mm2
    assert not reasons.placed_with(job, plan, [])["rough"]
    on_rough = replace(job, metal=(replace(clean, clean_edges=False), rough))
    assert reasons.placed_with(on_rough, plan, [])["rough"]
