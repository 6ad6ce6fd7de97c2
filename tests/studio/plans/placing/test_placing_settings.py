"""A teacher says how pieces are placed: the school's rules, a course's own, a job's."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest
from django.urls import reverse
from shapely.geometry import box

from classroom.models import History
from classroom.refusals import Refused
from inventory.models import StockPiece
from inventory.rack import correcting
from inventory.rack.edges import edges_of, with_clean
from studio.core.cutting.job import Hands
from studio.forms.plans.room_picture import pictures_of_hands
from studio.models import Brief, PlacingSettings
from studio.steps.plans.approve import approve_plan
from studio.steps.plans.grain import grains_of
from studio.steps.plans.place import propose
from studio.steps.plans.placing_settings import PlacingRules, rules_for, table_kerf_mm
from tests.people import Cast, signed_in
from tests.studio.plans import making

pytestmark = pytest.mark.django_db

TAG = box(0, 0, 40, 12)


def keep(cast: Cast, *, course: bool = False, **typed: object) -> int:
    address = (
        reverse("course_placing_settings", args=[cast.course.pk])
        if course
        else reverse("placing_settings")
    )
    return signed_in(cast.teacher).post(address, typed).status_code


def test_without_a_word_from_anybody_the_usual_rules_hold(cast: Cast) -> None:
    assert rules_for(cast.school, cast.course) == PlacingRules()


def test_a_course_differs_in_what_it_says_and_else_follows_the_school(cast: Cast) -> None:
    assert keep(cast, offcut_min_width_mm="15", edge_margin_mm="1", kerf_6="0.27") == 302
    assert keep(cast, course=True, edge_margin_mm="0", saw_worth_per_cm="0.05") == 302
    school, course = rules_for(cast.school), rules_for(cast.school, cast.course)
    assert (school.edge_margin_mm, course.edge_margin_mm) == (Decimal("1.00"), Decimal(0))
    assert school.saw_worth_per_cm == 0
    assert course.saw_worth_per_cm == Decimal("0.05")
    assert course.offcut_min_width_mm == Decimal(15)
    assert course.kerf_mm("2/0") == Decimal("0.27")
    assert course.kerf_mm("3") == table_kerf_mm("3")


def test_an_emptied_box_gives_the_usual_value_back(cast: Cast) -> None:
    keep(cast, offcut_min_area="900")
    assert rules_for(cast.school).offcut_min_area_mm2 == 900
    keep(cast, offcut_min_area="")
    assert rules_for(cast.school).offcut_min_area_mm2 == PlacingRules().offcut_min_area_mm2


def test_saying_the_same_twice_is_one_change(cast: Cast) -> None:
    keep(cast, edge_margin_mm="1")
    keep(cast, edge_margin_mm="1")
    assert History.objects.filter(verb="placing-rules").count() == 1
    assert PlacingSettings.objects.count() == 1


def test_the_hand_is_the_briefs_own_else_the_courses_else_the_schools(cast: Cast) -> None:
    kerf = Decimal("0.30")
    assert rules_for(cast.school).room().gap_for(kerf) == 1
    keep(cast, hand="first")
    assert rules_for(cast.school, cast.course).room().gap_for(kerf) == 2
    keep(cast, course=True, hand="surer", surer_gap_mm="1.2")
    rules = rules_for(cast.school, cast.course)
    assert rules.room("").gap_for(kerf) == Decimal("1.20")
    assert rules.room("sure").gap_for(kerf) == kerf
    assert rules.room("first").shared_for(kerf) == Decimal("0.70")


def test_in_a_plan_of_several_briefs_the_widest_room_holds(cast: Cast) -> None:
    rules = PlacingRules()
    wide, thick = Brief(hand="first", kerf_mm=Decimal("0.2")), Brief(kerf_mm=Decimal("0.5"))
    apart = rules.apart([wide, thick, Brief(hand="sure", kerf_mm=Decimal("0.3"))])
    assert (apart.kerf_mm, apart.gap_mm, apart.shared_mm) == (0.5, 2.0, 0.9)
    sure = rules.apart([Brief(hand="sure", kerf_mm=Decimal("0.3"))])
    assert (sure.gap_mm, sure.shared_mm) == (0.3, 0.3)


def test_no_line_is_shared_wider_than_pieces_are_apart() -> None:
    narrow = PlacingRules(surer_gap_mm=Decimal("0.4"), surer_filing_mm=Decimal(1))
    apart = narrow.apart([Brief(hand="surer", kerf_mm=Decimal("0.3"))])
    assert (apart.gap_mm, apart.shared_mm) == (0.4, 0.4)
    thick = narrow.apart([Brief(hand="surer", kerf_mm=Decimal("0.6"))])
    assert thick.gap_mm == thick.shared_mm == 0.6


def test_the_page_shows_the_numbers_that_hold_in_the_schools_units(cast: Cast) -> None:
    cast.school.units = "in"
    cast.school.save()
    page = signed_in(cast.teacher).get(reverse("placing_settings")).content.decode()
    assert "0.039 in between pieces, the kerf and 0.008 in on shared lines" in page
    assert "Usually: 0.079 in" in page  # along rough edges, as the picture beside it has it
    assert 'placeholder="0.008 in"' in page  # a kerf, in a narrow box
    assert "from 0.0394 in to 0.0787 in" in page
    assert " mm" not in re.sub(r"<title>.*?</title>", "", page.replace("mm²", ""))
    keep(cast, first_gap_mm="0.1", straight_min_mm="3/8")
    page = signed_in(cast.teacher).get(reverse("placing_settings")).content.decode()
    assert "0.100 in between pieces" in page
    assert rules_for(cast.school).straight_min_mm == Decimal("9.53")  # as near as is kept


def test_a_brief_says_whose_hands_it_is_for(cast: Cast) -> None:
    brief = making.brief(cast, making.copper(cast))
    address = reverse("brief_edit", args=[brief.pk])
    page = signed_in(cast.teacher).get(address).content.decode()
    assert "As the course: getting surer" in page
    assert "Getting surer: 1.00 mm between pieces" in page
    brief.hand = "first"
    brief.save()
    page = signed_in(cast.teacher).get(reverse("brief", args=[brief.pk])).content.decode()
    assert "2.00 mm between pieces" in page


def test_pictures_show_the_room_to_scale_and_say_where_nothing_is_left_to_file(
    cast: Cast,
) -> None:
    first, surer, sure = pictures_of_hands(PlacingRules(), Decimal("0.30"))
    assert [float(one.gap_mm) for one in (first, surer, sure)] == [2, 1, 0.3]
    assert first.scale == surer.scale == sure.scale
    for one in (first, surer, sure):
        at = re.findall(r"M([0-9.]+) 25V31", one.gap["size"] + one.shared["size"])
        wide = [float(at[1]) - float(at[0]), float(at[3]) - float(at[2])]
        real = [float(one.gap_mm), float(one.shared_mm)]
        assert wide == pytest.approx([mm * one.scale for mm in real], abs=0.02)
    client, address = signed_in(cast.teacher), reverse("placing_settings")
    assert "enough left to file both" in client.get(address).content.decode()
    keep(cast, hand="sure")
    page = client.get(address).content.decode()
    assert "enough left to file" not in page
    assert "nothing left to file" in page
    brief = making.brief(cast, making.copper(cast))
    page = client.get(reverse("brief_edit", args=[brief.pk])).content.decode()
    assert all(f"<figcaption>{name}" in page for name in ("First pieces", "Sure hand"))


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("hand", "steady"),
        ("first_gap_mm", "0.1"),
        ("surer_filing_mm", "4"),
        ("rim_mm", "0.5"),
        ("straight_min_mm", "0"),
        ("offcut_min_width_mm", "900"),
        ("edge_margin_mm", "-1"),
        ("saw_worth_per_cm", "1e9"),
        ("saw_worth_per_cm", "NaN"),
        ("offcut_min_area", "200000"),
        ("sheet_grain", "sideways"),
        ("blade", "99/0"),
        ("kerf_0", "9"),
    ],
)
def test_what_makes_no_sense_is_not_kept(cast: Cast, field: str, value: str) -> None:
    assert keep(cast, course=False, **{field: value}) == 422
    assert not PlacingSettings.objects.exists()


def test_areas_are_typed_in_the_schools_units(cast: Cast) -> None:
    cast.school.units = "in"
    cast.school.save()
    keep(cast, offcut_min_area="1", offcut_min_width_mm="1/2")
    rules = rules_for(cast.school)
    assert rules.offcut_min_area_mm2 == Decimal("645.16")
    assert rules.offcut_min_width_mm == Decimal("12.70")


def test_a_new_brief_begins_with_the_rules_of_its_course(cast: Cast) -> None:
    keep(cast, blade="1/0", offcut_min_width_mm="18")
    keep(cast, course=True, blade="3/0")
    page = signed_in(cast.teacher).get(reverse("brief_new", args=[cast.course.pk]))
    form = page.context["form"]
    assert form["blade"].value() == "3/0"
    assert form["offcut_min_width_mm"].value() == "18 mm"


def test_a_job_is_made_by_the_rules_and_keeps_them(cast: Cast) -> None:
    keep(cast, edge_margin_mm="1.2", offcut_min_area="800", saw_worth_per_cm="0.1")
    metal = making.copper(cast)
    making.stock(metal, "CU-0.81-001")
    brief = making.brief(cast, metal, kerf_mm="0.28", may_mirror=True)
    plan = propose([making.approved_project(brief, cast.seat, metal)], acting=cast.teacher)
    assert plan.job["edge_margin_mm"] == 1.2
    assert plan.job["offcut_min_area_mm2"] == 800.0
    assert plan.job["saw_cost_per_mm"] == pytest.approx(0.002 + 0.01)
    assert [piece["may_mirror"] for piece in plan.job["pieces"]] == [True]
    keep(cast, edge_margin_mm="0")
    plan.refresh_from_db()
    assert plan.job["edge_margin_mm"] == 1.2


def test_a_job_says_what_hands_need(cast: Cast) -> None:
    keep(cast, straight_min_mm="10", hand="first")
    metal = making.copper(cast)
    sheet = making.stock(metal, "CU-0.81-001")
    edges = edges_of(sheet.polygon)
    correcting.correct(
        sheet, acting=cast.teacher, reason="shears", edges=with_clean(edges, {"1", "2"})
    )
    brief = making.brief(cast, metal, kerf_mm="0.28")
    plan = propose([making.approved_project(brief, cast.seat, metal)], acting=cast.teacher)
    job = plan.asked
    assert job.hands == Hands(gap_mm=2.0, shared_mm=0.68, straight_min_mm=10.0)
    assert (job.kerf_mm, job.edge_margin_mm, job.worth) == (0.28, 2.0, "two")
    (offered,) = job.metal
    assert offered.clean_edges
    assert offered.rough_edges is not None
    assert offered.rough_edges.length == pytest.approx(sheet.polygon.length / 2, abs=0.01)


def test_edges_that_were_looked_at_meanwhile_have_the_pieces_placed_again(cast: Cast) -> None:
    metal = making.copper(cast)
    sheet = making.stock(metal, "CU-0.81-001")
    brief = making.brief(cast, metal)
    plan = making.placed(cast, making.approved_project(brief, cast.seat, metal))
    edges = edges_of(sheet.polygon)
    correcting.correct(
        sheet, acting=cast.teacher, reason="shears", edges=with_clean(edges, {"1", "2"})
    )
    with pytest.raises(Refused, match="has been corrected"):
        approve_plan(plan, acting=cast.teacher)


def test_the_plans_page_says_by_which_rules_it_was_placed(cast: Cast) -> None:
    metal = making.copper(cast)
    making.stock(metal, "CU-0.81-001")
    brief = making.brief(cast, metal, kerf_mm="0.31", blade="1/0")
    plan = making.placed(cast, making.approved_project(brief, cast.seat, metal))
    page = signed_in(cast.teacher).get(reverse("plan", args=[plan.pk])).content.decode()
    said = " ".join(page.split())
    assert "Placed with blade 1/0. At least 1.00 mm stay free between pieces, 0.51 mm along" in said
    assert '<span data-figure="kerf">0.31 mm</span>' in said
    assert "What is good about this plan, and what is not" in page


def test_pieces_that_follow_the_grain_lie_along_it(cast: Cast) -> None:
    keep(cast, sheet_grain="longer")
    metal = making.copper(cast)
    stock = making.stock(metal, "CU-0.81-001")
    along_x = float(stock.width_mm) > float(stock.height_mm)
    brief = making.brief(cast, metal, grain=Brief.Grain.ACROSS)
    plan = making.placed(cast, making.approved_project(brief, cast.seat, metal, TAG, copies=3))
    assert plan.answer is not None
    turns = {placed["turn_deg"] for placed in plan.answer["placements"]}
    assert turns <= ({0.0, 180.0} if along_x else {90.0, 270.0})


def test_an_offcut_has_the_grain_of_its_sheet_and_a_found_one_has_none(cast: Cast) -> None:
    metal = making.copper(cast)
    stock = making.stock(metal, "CU-0.81-001")
    offcut = making.stock(metal, "CU-0.81-090", TAG, kind=StockPiece.Kind.OFFCUT)
    assert grains_of([stock, offcut], "ignored") == {stock.pk: None, offcut.pk: None}
    wide = stock.width_mm > stock.height_mm
    assert grains_of([stock], "longer")[stock.pk] == (0.0 if wide else 90.0)
    assert grains_of([stock], "shorter")[stock.pk] == (90.0 if wide else 0.0)
    assert grains_of([offcut], "longer")[offcut.pk] is None
    StockPiece.objects.filter(pk=offcut.pk).update(parent=stock)
    offcut.refresh_from_db()
    assert grains_of([offcut], "longer")[offcut.pk] == grains_of([stock], "longer")[stock.pk]


def test_where_nobody_knows_the_grain_the_refusal_says_what_to_do(cast: Cast) -> None:
    metal = making.copper(cast)
    making.stock(metal, "CU-0.81-001")
    brief = making.brief(cast, metal, grain=Brief.Grain.UPRIGHT)
    with pytest.raises(Refused, match="Say how it runs in your sheets"):
        propose([making.approved_project(brief, cast.seat, metal)], acting=cast.teacher)
