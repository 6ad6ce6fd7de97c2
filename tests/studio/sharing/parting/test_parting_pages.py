"""The page of metal that is parted: who sees it, who may, and what its form takes."""

from __future__ import annotations

import pytest
from django.core.management import call_command
from django.urls import reverse

from inventory.models import StockPiece
from studio.models import BenchSetup, CutPlan, PartEntry, StockStep
from studio.queries.sharing import parts_waiting
from studio.views.sharing.card import parting_card
from tests.people import signed_in, visit
from tests.studio.bench.making import World, give_permits


@pytest.fixture
def step(plan: CutPlan) -> StockStep:
    return StockStep.objects.get(plan_stock__plan=plan)


def page(step: StockStep) -> str:
    return reverse("part_metal", args=[step.pk])


def as_planned(**other: str) -> dict[str, str]:
    """The form as the page first shows it, but for what is given."""
    sizes = {2: ("40", "80"), 3: ("80", "40"), 4: ("80", "40")}
    filled = {f"cause_{part}": "" for part in sizes}
    for part, (width, height) in sizes.items():
        filled |= {f"width_{part}": width, f"height_{part}": height}
    return filled | {"place": "Drawer 1"} | other


def test_the_teacher_starts_and_signs_on_the_page(world: World, step: StockStep) -> None:
    client = signed_in(world.cast.teacher)
    assert "80.0 mm" in client.get(page(step)).content.decode()
    client.post(reverse("part_start", args=[step.pk]))
    answer = client.post(page(step), as_planned(), follow=True)
    assert answer.status_code == 200
    assert PartEntry.objects.count() == 3
    assert "Drawer 1" in set(StockPiece.objects.values_list("place", flat=True))
    assert "Labels for the parts" in answer.content.decode()


def test_a_student_without_the_permit_reads_what_is_missing(world: World, step: StockStep) -> None:
    client = signed_in(world.cast.owner)
    shown = client.get(page(step)).content.decode()
    assert "Hand and bench shears" in shown
    assert reverse("part_start", args=[step.pk]) not in shown
    assert client.post(reverse("part_start", args=[step.pk])).status_code == 409
    step.refresh_from_db()
    assert step.started_at is None


def test_a_student_with_the_permits_parts_at_the_hand_shear(world: World, step: StockStep) -> None:
    give_permits(world.cast, world.cast.owner, "hand-shears", "files-sharp-edges")
    client = signed_in(world.cast.owner)
    client.post(reverse("part_start", args=[step.pk]))
    client.post(page(step), as_planned())
    assert PartEntry.objects.filter(by=world.cast.owner).count() == 3


def test_a_power_driven_guillotine_is_the_teachers_alone(
    world: World, two: object, request: pytest.FixtureRequest
) -> None:
    BenchSetup.objects.create(school=world.cast.school, shear="power")
    plan = request.getfixturevalue("plan")
    step = StockStep.objects.get(plan_stock__plan=plan)
    give_permits(world.cast, world.cast.owner)
    client = signed_in(world.cast.owner)
    assert client.post(reverse("part_start", args=[step.pk])).status_code == 409
    assert not parts_waiting(world.cast.owner).exists()
    assert parts_waiting(world.cast.teacher).get() == step


@pytest.mark.parametrize("who", ["other_teacher", "outsider", "outside_student"])
def test_nobody_else_finds_it(world: World, step: StockStep, who: str) -> None:
    assert visit(getattr(world.cast, who), page(step)).status_code == 404


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("width_3", "0"),
        ("width_3", "-4"),
        ("width_3", "99999"),
        ("height_4", "nan"),
        ("height_4", ""),
        ("width_2", "<b>"),
        ("width_3", "119"),
    ],
)
def test_sizes_that_cannot_be_are_refused_and_nothing_is_booked(
    world: World, step: StockStep, field: str, value: str
) -> None:
    client = signed_in(world.cast.teacher)
    client.post(reverse("part_start", args=[step.pk]))
    answer = client.post(page(step), as_planned(**{field: value}))
    assert answer.status_code == 422
    step.refresh_from_db()
    assert step.done_at is None
    assert not PartEntry.objects.exists()
    assert StockPiece.objects.get(pk=world.sheets[0].pk).state == "issued"


def test_a_spoilt_part_wants_its_cause(world: World, step: StockStep) -> None:
    client = signed_in(world.cast.teacher)
    client.post(reverse("part_start", args=[step.pk]))
    assert client.post(page(step), as_planned(lost_3="on")).status_code == 422


def test_students_read_letters_and_no_classmates_name(world: World, step: StockStep) -> None:
    sheet = reverse("parting_sheet", args=[step.plan_stock.plan_id])
    for address in (page(step), sheet):
        shown = visit(world.cast.owner, address).content.decode()
        assert str(world.cast.classmate) not in shown
    assert str(world.cast.classmate) in visit(world.cast.teacher, sheet).content.decode()


def test_labels_are_there_once_it_is_parted(world: World, step: StockStep) -> None:
    client = signed_in(world.cast.teacher)
    labels = reverse("parting_labels", args=[step.plan_stock.plan_id])
    assert client.get(labels).status_code == 409
    client.post(reverse("part_start", args=[step.pk]))
    client.post(page(step), as_planned())
    shown = client.get(labels).content.decode()
    for piece in StockPiece.objects.filter(parent=world.sheets[0]):
        assert piece.code in shown


def test_the_plans_card_leads_to_the_metal_and_to_the_own_plans(
    world: World, plan: CutPlan, step: StockStep
) -> None:
    card = parting_card(plan, world.cast.teacher)
    assert [one["step"] for one in card["steps"]] == [step]
    assert card["steps"][0]["may"]
    client = signed_in(world.cast.teacher)
    client.post(reverse("part_start", args=[step.pk]))
    client.post(page(step), as_planned())
    plan.refresh_from_db()
    assert parting_card(plan, world.cast.teacher)["own_plans"] == list(
        plan.own_plans.order_by("pk")
    )
    assert parting_card(plan, world.cast.owner)["own_plans"] == []


def test_a_students_link_to_the_shared_plan_leads_on(
    world: World, plan: CutPlan, step: StockStep
) -> None:
    client = signed_in(world.cast.teacher)
    client.post(reverse("part_start", args=[step.pk]))
    client.post(page(step), as_planned())
    own = CutPlan.objects.get(parent=plan, shares__project__seat=world.cast.seat)
    answer = visit(world.cast.owner, reverse("plan", args=[plan.pk]))
    assert (answer.status_code, answer["Location"]) == (302, reverse("plan", args=[own.pk]))
    assert visit(world.cast.teacher, reverse("plan", args=[plan.pk])).status_code == 200


def test_a_blank_on_which_the_layout_fails_offers_the_server(
    world: World, plan: CutPlan, step: StockStep
) -> None:
    client = signed_in(world.cast.teacher)
    client.post(reverse("part_start", args=[step.pk]))
    client.post(page(step), as_planned(height_3="30", cause_3="slipped"))
    own = CutPlan.objects.get(parent=plan, shares__project__seat=world.cast.classmate_seat)
    student = signed_in(world.cast.classmate)
    address = reverse("blank_relay", args=[own.pk])
    assert address in student.get(reverse("plan", args=[own.pk])).content.decode()
    assert signed_in(world.cast.owner).post(address).status_code == 404
    assert student.post(address).status_code == 302
    own.refresh_from_db()
    assert (own.state, own.placing.state) == ("issued", "queued")
    shown = student.get(reverse("plan", args=[own.pk])).content.decode()
    assert address not in shown
    assert "The server is laying them anew." in shown
    call_command("audit_stock")
