"""What a layout costs and leaves is the same wherever it is told: first cut plan, table, plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import pytest
from django.utils import timezone
from shapely.geometry import Polygon, box

from inventory.models import StockPiece
from studio.core.cutting import Job, Placement, Plan, plan_from_json
from studio.core.cutting.by_hand import placement_to_json
from studio.core.cutting.parting import cuts_to_json
from studio.core.verifying import faults, measure
from studio.models import Layout, TrialLayout
from studio.running.trials import doing
from studio.steps.plans.asking import make_job, piece_id
from studio.views.layouts.state import look
from tests.people import Cast
from tests.studio.plans import making

from .laying import pattern_of

pytestmark = pytest.mark.django_db

SHEET = box(0, 0, 150, 90)
L_SHEET = Polygon([(0, 0), (140, 0), (140, 45), (60, 45), (60, 100), (0, 100)])


@dataclass(frozen=True, slots=True)
class Laid:
    """Outlines, each with how many times it lies, and where: stock piece, turn, x and y."""

    outlines: Sequence[Polygon]
    places: Sequence[tuple[str, float, float, float]]
    copies: int = 1
    sheet: Polygon = SHEET
    kind: str = StockPiece.Kind.SHEET


CASES = {
    "a tag across the middle": Laid([making.TAG], [("CU-1", 30, 60, 20)]),
    "with windows and holes": Laid(
        [making.WINDOW_TAG, making.FISH], [("CU-1", 0, 0, 0), ("CU-1", 0, 45, 30)]
    ),
    "on an offcut": Laid(
        [making.TAG, making.SAIL],
        [("CU-1", 0, 0, 0), ("CU-1", 0, 80, 0)],
        sheet=L_SHEET,
        kind=StockPiece.Kind.OFFCUT,
    ),
    "on two stock pieces": Laid(
        [making.TAG, making.SAIL], [("CU-1", 0, 50, 0), ("CU-2", 15, 40, 12)]
    ),
    "two offcuts on either side": Laid(
        [making.TAG],
        [("CU-1", 0, 20, 0), ("CU-1", 0, 20, 22), ("CU-1", 0, 20, 44), ("CU-1", 0, 20, 66)],
        copies=4,
        sheet=box(0, 0, 80, 86),
    ),
}


def layout_of(cast: Cast, laid: Laid) -> Layout:
    metal = making.copper(cast)
    stock = [making.stock(metal, "CU-1", laid.sheet, cost="13.37", kind=laid.kind)]
    stock.append(making.stock(metal, "CU-2", box(0, 0, 90, 70), cost="9.10"))
    making.supplies(cast)
    making.allot(cast)
    project = making.approved_project(
        making.brief(cast, metal), cast.seat, metal, *laid.outlines, copies=laid.copies
    )
    pattern = pattern_of(project)
    which = [
        (piece_id(pattern, piece), copy)
        for piece in pattern.drawing.pieces
        for copy in range(laid.copies)
    ]
    placements = [
        Placement(piece, copy, code, False, turn, x, y)
        for (piece, copy), (code, turn, x, y) in zip(which, laid.places, strict=True)
    ]
    made = Layout.objects.create(
        project=project,
        pattern=pattern,
        number=1,
        owner=project.student,
        job=make_job([pattern], stock, cast.school),
        placements=[placement_to_json(p) for p in placements],
        chosen=True,
        handed_in_at=timezone.now(),
    )
    assert not faults(made.asked, made.laid)
    return made


def as_trial(layout: Layout, monkeypatch: pytest.MonkeyPatch) -> TrialLayout:
    """The first cut plan of the pattern, as if the server had laid just that."""

    def found(job: Job, effort: Any) -> Plan:
        measures, offcuts = measure(job, layout.laid)
        return Plan(layout.laid, (), measures, offcuts, 1, 0.0, 0, by_hand=True)

    monkeypatch.setattr(doing, "searched", found)
    metal = layout.project.metal_id if layout.project else None
    trial = TrialLayout.objects.create(
        pattern=layout.pattern, key="k", job=layout.job, others={"metal": metal}
    )
    assert doing.run(trial.pk, "here/1")
    trial.refresh_from_db()
    return trial


@pytest.mark.parametrize("name", CASES)
def test_trial_table_and_plan_tell_one_price_and_one_strip(
    cast: Cast, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    layout = layout_of(cast, CASES[name])
    assert layout.project is not None
    on_the_table = look(layout).figures
    trial = as_trial(layout, monkeypatch)
    plan = making.placed(cast, layout.project)
    assert plan.laid is not None
    assert set(plan.laid.placements) == set(layout.laid)
    quote = plan.quotes.get()
    assert {on_the_table["price"], trial.others["price"]} == {str(quote.total)}
    first = plan_from_json(trial.answer or {}).measures
    for told in (on_the_table["largest_rectangle_mm"], first.largest_rectangle_mm):
        assert tuple(told) == pytest.approx(plan.laid.measures.largest_rectangle_mm, abs=0.002)
    for of, told in (("consumed", first.consumed_mm2), ("kept", first.kept_mm2)):
        assert told == pytest.approx(on_the_table[f"{of}_mm2"], abs=0.01)
        assert told == pytest.approx(getattr(plan.laid.measures, f"{of}_mm2"), abs=0.01)


def test_on_a_classs_table_it_is_what_all_pay_together(cast: Cast) -> None:
    plan = making.shared_plan(cast)
    assert plan.laid is not None
    table = Layout.objects.create(
        plan=plan,
        number=1,
        owner=cast.teacher,
        job=plan.job,
        placements=[placement_to_json(p) for p in plan.laid.placements],
        cuts=cuts_to_json(plan.laid.cuts),
    )
    figures = look(table).figures
    assert figures["price"] == str(sum(quote.total for quote in plan.quotes.all()))
    assert figures["consumed_mm2"] == pytest.approx(plan.laid.measures.consumed_mm2, abs=0.01)
