"""The page on which a teacher takes the metal back, and the balance it becomes."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.test import Client

from classroom.models import History
from inventory.models import StockPiece
from inventory.spending import ledger
from studio.forms.rack.give_back import ReturnForm
from studio.models import CutPlan, Project, Return
from studio.steps.rack.give_back import close_plan, every_offcut
from tests.inventory.pages import tick
from tests.people import signed_in
from tests.studio.bench.making import World

from .forms import filled_in, url_of


@pytest.fixture
def plan(world: World) -> CutPlan:
    """Two made projects on one sheet, which leaves one offcut."""
    projects = world.project(world.cast.seat), world.project(world.cast.classmate_seat)
    made = world.issued(*projects)
    Project.objects.update(stage=Project.Stage.MADE)
    return made


def test_who_may_see_it(world: World, plan: CutPlan) -> None:
    cast = world.cast
    people = (cast.teacher, cast.owner, cast.classmate, cast.other_teacher, cast.outsider)
    for method in ("get", "post"):
        answers = [getattr(signed_in(p), method)(url_of(plan)).status_code for p in people]
        assert answers == [200, 403, 403, 404, 404]
    assert not Return.objects.exists()


def test_the_form_shows_every_offcut_and_closes_the_plan(world: World, plan: CutPlan) -> None:
    client = signed_in(world.cast.teacher)
    text = client.get(url_of(plan)).content.decode()
    assert "Offcut 1 of CU-0.81-001" in text
    assert "120.0 mm × 80.0 mm" in text
    answer = client.post(url_of(plan), filled_in(remark="neat work"), follow=True)
    text = answer.content.decode()
    assert "What became of the metal" in text
    assert "neat work" in text
    assert "CU-0.81-003" in text
    assert Return.objects.get().remark == "neat work"


def test_sending_the_form_twice_closes_once(world: World, plan: CutPlan) -> None:
    client = signed_in(world.cast.teacher)
    client.post(url_of(plan), filled_in())
    answer = client.post(url_of(plan), filled_in(scrap_mass_g="99"))
    assert answer.status_code == 200
    assert "What became of the metal" in answer.content.decode()
    assert str(Return.objects.get().scrap_mass_g) == "2.40"


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({"scrap_mass_g": ""}, "Weigh the scrap; write 0 where there is none."),
        ({"scrap_mass_g": "-1"}, "greater than or equal to 0"),
        ({"scrap_mass_g": "1e400"}, "less than or equal to 100000"),
        ({"scrap_mass_g": "NaN"}, "Enter a number."),
        ({"fate_0": ""}, "This field is required."),
        ({"fate_0": "sold"}, "Select a valid choice."),
        ({"fate_0": "smaller"}, "Measure what came back: width and height."),
        ({"fate_0": "smaller", "width_0": "400", "height_0": "20"}, "cannot have come back"),
        ({"fate_0": "smaller", "width_0": "big", "height_0": "20"}, "big"),
        ({"given_up": "1,2"}, "Load the page again"),
        ({"remark": "x" * 301}, "at most 300 characters"),
    ],
)
def test_what_cannot_be_is_said_on_the_form_and_nothing_is_lost(
    world: World, plan: CutPlan, more: dict[str, str], says: str
) -> None:
    sent = filled_in(place="Drawer 4") | more
    answer = signed_in(world.cast.teacher).post(url_of(plan), sent)
    text = answer.content.decode()
    assert answer.status_code == 200
    assert says in text
    assert "Drawer 4" in text
    plan.refresh_from_db()
    assert plan.state == CutPlan.State.ISSUED


def test_a_smaller_offcut_is_typed_in_the_schools_units(world: World, plan: CutPlan) -> None:
    world.cast.school.units = "in"
    world.cast.school.save()
    sent = filled_in(fate_0="smaller", width_0="2", height_0="1 1/2", scrap_mass_g="44")
    signed_in(world.cast.teacher).post(url_of(plan), sent)
    offcut = StockPiece.objects.get(parent__isnull=False)
    assert float(offcut.area_mm2) == pytest.approx(50.8 * 38.1, abs=0.01)


def test_unfinished_work_is_named_and_closing_needs_a_reason(world: World, plan: CutPlan) -> None:
    classmate = Project.objects.get(seat=world.cast.classmate_seat)
    Project.objects.filter(pk=classmate.pk).update(stage=Project.Stage.AT_BENCH)
    client = signed_in(world.cast.teacher)
    text = client.get(url_of(plan)).content.decode()
    assert "Not made yet" in text
    assert "scrap_mass_g" not in text
    text = client.get(url_of(plan), {"give_up": "1"}).content.decode()
    assert f'name="given_up" value="{classmate.pk}"' in text
    sent = filled_in(given_up=str(classmate.pk), scrap_mass_g="0.9")
    assert "Give the reason" in client.post(url_of(plan), sent).content.decode()
    answer = client.post(url_of(plan), sent | {"given_up_reason": "left"}, follow=True)
    assert "Given up" in answer.content.decode()


def test_what_was_finished_meanwhile_is_not_given_up(world: World, plan: CutPlan) -> None:
    """The form was opened while a project was unfinished; now it is made."""
    classmate = Project.objects.get(seat=world.cast.classmate_seat)
    sent = filled_in(given_up=str(classmate.pk), given_up_reason="left")
    text = signed_in(world.cast.teacher).post(url_of(plan), sent).content.decode()
    assert "Meanwhile a project of this plan was finished" in text


def test_over_budget_is_said_on_the_form_and_a_reason_mends_it(world: World, plan: CutPlan) -> None:
    budget = ledger.open_budget(world.cast.course)
    ledger.allot(budget, -budget.left, acting=world.cast.teacher, reason="end of term")
    client = signed_in(world.cast.teacher)
    text = client.post(url_of(plan), filled_in(fate_0="scrap", scrap_mass_g="58")).content.decode()
    assert "Over budget" in text
    sent = filled_in(fate_0="scrap", scrap_mass_g="58", overdraw_reason="bent beyond use")
    assert (
        "more than planned was charged"
        in client.post(url_of(plan), sent, follow=True).content.decode()
    )


@pytest.mark.parametrize(
    ("grams", "says"),
    [
        ("0", "less than is likely"),
        ("6", "more than is likely"),
        ("750", "750.0 g of scrap cannot be"),
    ],
)
def test_an_unlikely_weight_of_scrap_is_asked_about_before_anything_is_saved(
    world: World, plan: CutPlan, grams: str, says: str
) -> None:
    client = signed_in(world.cast.teacher)
    text = client.post(url_of(plan), filled_in(scrap_mass_g=grams)).content.decode()
    assert says in text
    assert f'value="{grams}"' in text
    assert not Return.objects.exists()
    sent = filled_in(scrap_mass_g=grams, sure=tick(text), sure_why="weighed twice")
    # Another figure than the one that was asked about is a question of its own.
    assert tick(client.post(url_of(plan), sent | {"scrap_mass_g": "9"}).content.decode())
    assert client.post(url_of(plan), sent).status_code == 302
    assert float(Return.objects.get().scrap_mass_g) == float(grams)
    asked = History.objects.about(plan).get(verb="kept-as-typed")
    assert asked.detail == {"why": "weighed twice"}


def test_what_cannot_be_wants_a_reason_in_words(world: World, plan: CutPlan) -> None:
    client = signed_in(world.cast.teacher)
    text = client.post(url_of(plan), filled_in(scrap_mass_g="750")).content.decode()
    assert "How that came about" in text
    sent = filled_in(scrap_mass_g="750", sure=tick(text))
    assert client.post(url_of(plan), sent).status_code == 200
    assert not Return.objects.exists()
    assert client.post(url_of(plan), sent | {"sure_why": "two plans in one"}).status_code == 302
    assert "two plans in one" in Return.objects.get().remark


def test_a_plan_without_metal_at_the_bench_has_nothing_to_bring_back(
    world: World, plan: CutPlan
) -> None:
    CutPlan.objects.filter(pk=plan.pk).update(state=CutPlan.State.APPROVED)
    answer = signed_in(world.cast.teacher).get(url_of(plan))
    assert answer.status_code == 409
    assert "There is no metal to bring back" in answer.content.decode()


def asked_about(client: Client, plan: CutPlan) -> dict[str, str]:
    """The form with an unlikely weight, and the question about it answered."""
    text = client.post(url_of(plan), filled_in(scrap_mass_g="750")).content.decode()
    return filled_in(scrap_mass_g="750", sure=tick(text), sure_why="two plans in one")


def test_the_plan_is_closed_with_the_answer_or_not_at_all(
    world: World, plan: CutPlan, monkeypatch: pytest.MonkeyPatch
) -> None:
    client = signed_in(world.cast.teacher)
    sent = asked_about(client, plan)

    def broken(*args: object, **kwargs: object) -> None:
        raise OSError

    monkeypatch.setattr(ReturnForm, "keep_answer", broken)
    with pytest.raises(OSError):
        client.post(url_of(plan), sent)
    plan.refresh_from_db()
    assert plan.state == CutPlan.State.ISSUED
    assert not Return.objects.exists()


def test_who_comes_second_leaves_no_answer_about_a_figure_that_was_not_kept(
    world: World, plan: CutPlan, monkeypatch: pytest.MonkeyPatch
) -> None:
    client = signed_in(world.cast.teacher)
    sent = asked_about(client, plan)
    sound = ReturnForm.is_valid

    def closed_meanwhile(form: ReturnForm) -> bool:
        found = sound(form)
        close_plan(
            plan,
            acting=world.cast.teacher,
            offcuts_kept=every_offcut(plan),
            scrap_mass_g=Decimal("2.5"),
        )
        return found

    monkeypatch.setattr(ReturnForm, "is_valid", closed_meanwhile)
    assert client.post(url_of(plan), sent).status_code == 302
    assert Return.objects.get().scrap_mass_g == Decimal("2.5")
    assert not History.objects.about(plan).filter(verb="kept-as-typed").exists()
