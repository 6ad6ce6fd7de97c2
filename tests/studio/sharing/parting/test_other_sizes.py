"""Parts that came out otherwise than planned: smaller, cut wrong, spoilt."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.core.management import call_command
from django.db.models import Sum
from shapely.geometry import box

from classroom.refusals import Refused
from inventory.models import ScrapEntry, StockPiece
from studio.core.offcuts.true_outline import true_outline
from studio.core.verifying import faults
from studio.models import CutPlan, PartEntry, PlacingJob, Project, StockStep
from studio.running.placing import relaying
from studio.steps.bench.sign import start_step
from studio.steps.rack.give_back import close_plan, every_offcut
from studio.steps.relaying.by_server import ask_relay
from studio.steps.sharing.parting.correct_part import correct_part
from studio.steps.sharing.parting.measuring import PartOut
from studio.steps.sharing.parting.part import sign_parted, start_parting
from tests.studio.bench.making import World, give_permits

State = CutPlan.State


def sized(width: str, height: str, cause: str = "") -> PartOut:
    return PartOut(Decimal(width), Decimal(height), cause)


def parted(world: World, plan: CutPlan, measured: dict[int, PartOut]) -> list[PartEntry]:
    step = StockStep.objects.get(plan_stock__plan=plan)
    start_parting(step, acting=world.cast.teacher)
    return sign_parted(step, acting=world.cast.teacher, measured=measured)


def own_plan(project: Project) -> CutPlan:
    return CutPlan.objects.get(shares__project=project, shares__live=True)


def in_all(field: str) -> Decimal:
    """Sum over the stock pieces that the school has: on the rack, reserved or handed out."""
    rows = StockPiece.objects.exclude(state="gone")
    return Decimal(str(rows.aggregate(sum=Sum(field))["sum"] or 0)).quantize(Decimal("0.01"))


def test_a_part_is_held_at_the_edges_that_were_not_cut() -> None:
    # lower left of a 120 x 80 sheet: its left and lower edges are the sheet's own
    sheet, planned = box(0, 0, 120, 80), box(0, 0, 80, 40)
    assert true_outline(planned, sheet, 79.0, 39.0).equals(box(0, 0, 79, 39))
    # upper right: its right and upper edges are the sheet's own
    assert true_outline(box(80, 40, 120, 80), sheet, 38.0, 41.0).equals(box(82, 39, 120, 80))
    # a cut on both sides: held in the middle
    assert true_outline(box(40, 0, 80, 80), sheet, 38.0, 80.0).equals(box(41, 0, 79, 80))
    # within 0.2 mm it is as planned
    assert true_outline(planned, sheet, 79.85, 40.1) is planned


def test_a_smaller_blank_on_which_the_layout_still_holds(
    world: World, plan: CutPlan, two: tuple[Project, Project]
) -> None:
    parted(world, plan, {4: sized("79", "39")})
    own = own_plan(two[0])
    assert not own.to_lay_anew
    assert own.reserved.get().stock_piece.polygon.equals(box(0, 0, 79, 39))


def test_a_blank_on_which_the_layout_no_longer_holds_is_to_be_laid_anew(
    world: World, plan: CutPlan, two: tuple[Project, Project]
) -> None:
    parted(world, plan, {3: sized("80", "30", "measured from the wrong edge")})
    # the classmate's blank is held at the sheet's upper edge, so its lower 10 mm are missing
    assert own_plan(two[1]).to_lay_anew
    assert not own_plan(two[0]).to_lay_anew
    entry = PartEntry.objects.get(part=3)
    assert (entry.kind, entry.cause) == ("wrong_cut", "measured from the wrong edge")


def test_the_server_lays_it_anew_and_it_stays_at_the_bench(
    world: World, plan: CutPlan, two: tuple[Project, Project]
) -> None:
    parted(world, plan, {3: sized("80", "30", "slipped")})
    own = own_plan(two[1])
    job = ask_relay(own, acting=world.cast.classmate)
    assert relaying.run(job.pk, "here", rounds=2)
    own = CutPlan.objects.get(pk=own.pk)
    assert (own.state, own.to_lay_anew) == (State.ISSUED, False)
    assert own.laid is not None
    assert faults(own.asked, own.laid.placements) == ()
    job.refresh_from_db()
    assert job.state == PlacingJob.State.DONE
    assert not relaying.run(job.pk, "there", rounds=1)
    with pytest.raises(Refused, match="holds"):
        ask_relay(own, acting=world.cast.classmate)


def test_pieces_that_find_no_room_are_told(
    world: World, plan: CutPlan, two: tuple[Project, Project]
) -> None:
    parted(world, plan, {3: sized("80", "18", "slipped")})
    own = own_plan(two[1])
    job = ask_relay(own, acting=world.cast.teacher)
    relaying.run(job.pk, "here", rounds=1)
    job.refresh_from_db()
    own.refresh_from_db()
    assert (job.state, own.to_lay_anew, own.state) == ("failed", True, State.ISSUED)
    assert "do not all fit" in job.error


def test_a_spoilt_blank_is_scrapped_and_its_project_placed_again(
    world: World, plan: CutPlan, two: tuple[Project, Project]
) -> None:
    charged = plan.quotes.get(project=two[1]).total
    parted(world, plan, {3: PartOut(cause="cut across the corner", is_lost=True)})
    two[1].refresh_from_db()
    assert two[1].stage == Project.Stage.PATTERN_APPROVED
    assert not two[1].plan_shares.filter(live=True).exists()
    assert not two[1].bench_steps.exists()
    entry = PartEntry.objects.get(part=3)
    assert (entry.kind, entry.made, entry.width_mm) == ("lost", None, None)
    assert ScrapEntry.objects.get().reason.endswith("cut across the corner")
    # what it was to cost stays charged on the shared plan, and no own plan takes it along
    assert plan.quotes.get(project=two[1]).total == charged
    assert own_plan(two[0]).quotes.count() == 1
    plan.refresh_from_db()
    assert plan.state == State.PARTED


def test_metal_and_money_add_up_at_every_stage(
    world: World, plan: CutPlan, two: tuple[Project, Project]
) -> None:
    area, cost = in_all("area_mm2"), in_all("cost")
    parted(world, plan, {})
    assert (in_all("area_mm2"), in_all("cost")) == (area, cost)
    call_command("audit_stock")
    for project in two:
        Project.objects.filter(pk=project.pk).update(stage=Project.Stage.MADE)
        own = own_plan(project)
        close_plan(
            own,
            acting=world.cast.teacher,
            offcuts_kept=every_offcut(own),
            scrap_mass_g=Decimal("1.00"),
        )
        call_command("audit_stock")


def test_a_blank_whose_project_ends_goes_to_the_rack_at_its_price(
    world: World, plan: CutPlan, two: tuple[Project, Project]
) -> None:
    parted(world, plan, {})
    own = own_plan(two[1])
    blank = own.reserved.get().stock_piece
    close_plan(
        own,
        acting=world.cast.teacher,
        offcuts_kept=every_offcut(own),
        scrap_mass_g=Decimal(0),
        given_up_reason="moved away",
    )
    blank.refresh_from_db()
    assert (blank.state, blank.cost) == ("rack", Decimal("8.00"))
    call_command("audit_stock")


def test_audit_is_clean_after_a_wrong_cut_and_a_spoilt_blank(world: World, plan: CutPlan) -> None:
    parted(
        world,
        plan,
        {3: PartOut(cause="slipped", is_lost=True), 4: sized("80", "44", "slipped")},
    )
    call_command("audit_stock")


def test_a_parted_plan_itself_brings_nothing_back(world: World, plan: CutPlan) -> None:
    parted(world, plan, {})
    with pytest.raises(Refused):
        close_plan(plan, acting=world.cast.teacher, offcuts_kept={}, scrap_mass_g=Decimal(0))


def test_before_it_is_parted_all_of_it_may_be_given_up(world: World, plan: CutPlan) -> None:
    close_plan(
        plan,
        acting=world.cast.teacher,
        offcuts_kept=every_offcut(plan),
        scrap_mass_g=Decimal(0),
        given_up_reason="the class moves on",
    )
    world.sheets[0].refresh_from_db()
    assert world.sheets[0].state == "rack"
    call_command("audit_stock")


def test_a_size_that_was_entered_wrong_is_corrected_by_another_entry(
    world: World, plan: CutPlan, two: tuple[Project, Project]
) -> None:
    parted(world, plan, {})
    first = PartEntry.objects.get(part=3)
    made = first.made
    assert made is not None
    said = sized("80", "30", "read off the wrong scale")
    new = correct_part(first, said, acting=world.cast.teacher)
    assert new.corrects == first
    made.refresh_from_db()
    assert made.polygon.equals(box(0, 0, 80, 30))
    assert made.cost == Decimal("8.00")
    own = own_plan(two[1])
    assert own.to_lay_anew  # 10 mm are missing below the tag
    back = correct_part(new, sized("80", "40", "it was right at first"), acting=world.cast.teacher)
    own = CutPlan.objects.get(pk=own.pk)
    assert not own.to_lay_anew
    assert back.corrects == new
    assert own.laid is not None
    assert (own.laid.placements[0].x_mm, own.laid.placements[0].y_mm) == pytest.approx((2.0, 3.0))
    call_command("audit_stock")


@pytest.mark.parametrize("why", ["again", "no cause", "student", "begun", "too large", "leftover"])
def test_a_correction_that_cannot_be_is_refused(
    world: World, plan: CutPlan, two: tuple[Project, Project], why: str
) -> None:
    parted(world, plan, {})
    entry = PartEntry.objects.get(part=2 if why == "leftover" else 3)
    said, acting = sized("80", "38", "misread"), world.cast.teacher
    if why == "again":
        correct_part(entry, sized("80", "39", "misread"), acting=acting)
    elif why == "no cause":
        said = sized("80", "38")
    elif why == "student":
        acting = world.cast.classmate
    elif why == "begun":
        give_permits(world.cast, world.cast.classmate)
        start_step(two[1].bench_steps.get(kind="prepare"), acting=world.cast.classmate)
    elif why == "too large":
        said = sized("80", "60", "misread")
    with pytest.raises(Refused):
        correct_part(entry, said, acting=acting)
    assert PartEntry.objects.filter(corrects=entry).count() == (1 if why == "again" else 0)
