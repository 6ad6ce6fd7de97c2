"""The same with the saw, and with blanks out of two sheets."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.core.management import call_command
from shapely.geometry import box

from inventory.models import StockPiece
from studio.core.bench.part_text import PartTool, part_step
from studio.models import BenchSetup, CutPlan, Project, StockStep
from studio.steps.sharing.parting.part import sign_parted, start_parting
from studio.steps.sharing.parting.part_step import tool_in
from tests.studio.bench.making import World
from tests.studio.sharing import making


def part(world: World, step: StockStep) -> None:
    start_parting(step, acting=world.cast.teacher)
    sign_parted(step, acting=world.cast.teacher)


def test_the_saw_takes_its_kerf_and_blanks_bear_it(
    world: World, two: tuple[Project, Project]
) -> None:
    plan = making.handed_out(world, making.parted(world, *two, way="sawn"))
    step = StockStep.objects.get(plan_stock__plan=plan)
    assert (tool_in(step), step.permits) == (PartTool.SAW, ["saw-frame", "files-sharp-edges"])
    part(world, step)
    left = StockPiece.objects.get(parent=world.sheets[0], state="rack")
    # the kerf is 0.3 mm, the cut its middle: 40 mm are left, less half of it
    assert left.polygon.equals_exact(box(0, 0, 39.85, 80), 1e-3)
    blanks = StockPiece.objects.filter(parent=world.sheets[0], state="issued")
    assert [float(one.area_mm2) for one in blanks] == pytest.approx([79.85 * 39.85] * 2, abs=0.01)
    # 24.00 for 9600 mm2: 7.97 go back with the leftover, the blanks bear the rest alike
    assert left.cost == Decimal("7.97")
    assert sorted(one.cost for one in blanks) == [Decimal("8.01"), Decimal("8.02")]
    call_command("audit_stock")


@pytest.mark.parametrize("shear", ["hand", "foot", "power"])
def test_the_step_speaks_of_the_rooms_tool_and_keeps_it(
    world: World, two: tuple[Project, Project], shear: str
) -> None:
    setup = BenchSetup.objects.create(school=world.cast.school, shear=shear)
    plan = making.handed_out(world, making.parted(world, *two))
    step = StockStep.objects.get(plan_stock__plan=plan)
    setup.shear = "none"
    setup.save()
    assert tool_in(step) == shear
    assert step.wording["in"]["es"]["do"] != step.wording["do"]
    part(world, step)
    blank = StockPiece.objects.filter(parent=world.sheets[0], state="issued")[0]
    # a guillotine's edge is clean once the burr is off, that of hand shears is not
    assert (blank.rough_edges == "") == (shear != "hand")
    own = CutPlan.objects.filter(parent=plan)[0]
    assert not own.to_lay_anew


def test_every_tool_defers_to_local_law_and_school_policy() -> None:
    for tool in PartTool:
        words = " ".join(part_step(tool, "CU-1").cautions)
        assert "Local law" in words
        assert "school's policy" in words
        assert "eye protection" in words
