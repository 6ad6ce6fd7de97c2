"""Passed-on metal comes back: pieces of one who was left out were never cut."""

from __future__ import annotations

from decimal import Decimal

import pytest
from time_machine import Traveller

from inventory.models import StockPiece
from studio.models import CutPlan, Project, Quote
from studio.steps.rack.give_back import at_the_bench, close_plan, every_offcut
from studio.steps.sharing.holding import hand_on
from studio.steps.sharing.sticking import leave_out
from tests.studio.bench.making import make_it

from .making import Passed

pytestmark = pytest.mark.django_db

SHEET_MM2 = Decimal(120 * 80)


def _returned(passed: Passed) -> Decimal:
    plan = CutPlan.objects.select_related("course__school", "metal").get(pk=passed.plan.pk)
    close_plan(
        plan,
        acting=passed.cast.teacher,
        offcuts_kept=every_offcut(plan),
        scrap_mass_g=Decimal(1),
    )
    came = StockPiece.objects.on_the_rack().exclude(pk=passed.world.sheets[1].pk)
    return sum((piece.area_mm2 for piece in came), Decimal(0))


def test_the_metal_of_one_who_was_left_out_comes_back_and_is_not_paid(
    passed: Passed, clock: Traveller
) -> None:
    planned = passed.plan.quotes.get(project=passed.projects[1], kind=Quote.Kind.PLANNED)
    assert planned.total > 0
    leave_out(passed.share(1), acting=passed.cast.teacher, reason="away")
    passed.do("prepare", clock)
    passed.do("adhere", clock, [0])
    passed.do("dry", clock)
    make_it(passed.projects[0], clock, passed.cast)
    assert [one.pk for one in at_the_bench(passed.plan).made] == [passed.projects[0].pk]
    came = _returned(passed)
    # The tag is 30 × 20 mm with its window; what is kept is at least the sheet less two such.
    assert SHEET_MM2 - 2 * 30 * 20 - 400 < came < SHEET_MM2
    settled = passed.plan.quotes.filter(kind=Quote.Kind.SETTLED)
    own = settled.get(project=passed.projects[0])
    assert own.total > 0
    assert sum((one.total for one in settled.exclude(pk=own.pk)), Decimal(0)) == 0
    left_out = Project.objects.get(pk=passed.projects[1].pk)
    assert left_out.stage == Project.Stage.PATTERN_APPROVED


def test_all_of_it_made_comes_back_as_before(passed: Passed, clock: Traveller) -> None:
    passed.dry(clock)
    make_it(passed.projects[0], clock, passed.cast)
    hand_on(passed.stock, passed.share(1), acting=passed.cast.teacher)
    make_it(passed.projects[1], clock, passed.cast)
    came = _returned(passed)
    assert came < SHEET_MM2 - 2 * 30 * 20
    assert passed.plan.quotes.filter(kind=Quote.Kind.SETTLED).count() == 2
