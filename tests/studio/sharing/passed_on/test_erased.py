"""Why a student was stood in for or left out goes with the student's name."""

from __future__ import annotations

import pytest
from time_machine import Traveller

from classroom.erasing.own import ERASED
from studio.erasing import erase
from studio.models import CutPlan, MetalHolder, PlanProject, StockSignOff
from studio.steps.sharing.holding import hand_on
from studio.steps.sharing.sticking import leave_out, stand_in
from studio.steps.sharing.stock_steps import start

from .making import Passed

pytestmark = pytest.mark.django_db


def test_reasons_about_a_student_go_and_those_about_others_stay(
    passed: Passed, clock: Traveller
) -> None:
    cast = passed.cast
    passed.do("prepare", clock)
    start(passed.step("adhere"), acting=cast.teacher)
    for number, why in ((0, "hurt a hand"), (1, "has the flu")):
        stand_in(
            passed.step("adhere"),
            passed.share(number),
            cast.teacher,
            acting=cast.teacher,
            reason=why,
        )
    passed.do("dry", clock)
    hand_on(passed.stock, passed.share(1), acting=cast.teacher, reason="better again")
    leave_out(passed.share(1), acting=cast.teacher, reason="the flu came back")
    CutPlan.objects.update(state=CutPlan.State.CLOSED)
    erase(cast.classmate)
    stuck = StockSignOff.objects.filter(kind="stuck").order_by("share")
    assert list(stuck.values_list("reason", flat=True)) == ["hurt a hand", ERASED]
    held = MetalHolder.objects.get(share=passed.share(1))
    assert held.reason == ERASED
    left = PlanProject.objects.get(pk=passed.share(1).pk)
    assert left.left_out_why == ERASED
    again = MetalHolder.objects.order_by("at", "pk").last()
    assert again is not None
    assert again.share == passed.share(0)
