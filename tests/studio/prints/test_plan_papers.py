"""What the two papers of a cut plan tell, and at what cost in queries."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.db import connection
from django.template.loader import render_to_string
from django.test.utils import CaptureQueriesContext
from shapely.geometry import LineString, Point, Polygon, box

from classroom.languages import in_language
from classroom.models import Role, Seat, User
from studio.models import CutPlan, Pattern, Quote, QuoteLine
from studio.prints.paper.drill_sizes import Hole, beside_holes
from studio.prints.patterns.pattern_sheet import pattern_sheet_context
from studio.prints.plans.cut_plan import cut_plan_context
from studio.prints.plans.placement_sheet import placement_sheet_context
from tests.studio.bench.making import World

TAG = box(0, 0, 40, 20)
SHARED = 0.5  # as wide as a line that two share is, where hands get surer


def seats(world: World, count: int) -> list[Seat]:
    found = [world.cast.seat, world.cast.classmate_seat]
    for number in range(count - 2):
        student = User.objects.create_user(
            f"more.{number}",
            "x-1",
            display_name=f"More {number}",
            role=Role.STUDENT,
            school=world.cast.school,
        )
        found.append(Seat.objects.create(course=world.cast.course, student=student))
    return found


def test_a_shared_line_is_sawn_once_and_said_so(world: World) -> None:
    one, other = (world.project(seat, TAG) for seat in seats(world, 2))
    plan = world.issued(one, other, places=[(10.0, 10.0), (50.0 + SHARED, 10.0)])
    context = cut_plan_context(plan, school=world.cast.school)
    (part,) = context["parts"]
    assert "20.0 mm by shared lines" in context["saved"]
    assert [turn.length_mm for turn in part.turns] == pytest.approx([120.0, 100.0], abs=0.1)
    notes = [turn.note for turn in part.turns]
    assert "20.0 mm shared: saw between the two lines" in notes[0]
    assert "20.0 mm sawn already with a neighbour" in notes[1]


def test_a_free_edge_needs_no_sawing_and_is_said_so(world: World) -> None:
    plan = world.issued(world.project(world.cast.seat, TAG), places=[(10.0, 0.0)])
    context = cut_plan_context(plan, school=world.cast.school)
    (part,) = context["parts"]
    assert "40.0 mm on free edges" in context["saved"]
    assert part.turns[0].note == "40.0 mm on the metal's edge: no sawing"
    assert part.views[0].art.free


def test_holes_come_before_windows_and_windows_before_outlines(world: World) -> None:
    plan = world.issued(world.project(world.cast.seat))  # one window, one ring mark of 2 mm
    (part,) = cut_plan_context(plan, school=world.cast.school)["parts"]
    assert part.holes == ["1 hole of 2 mm", "1 pilot hole of #60 (1.02 mm)"]
    assert [turn.what for turn in part.turns] == ["window", "outline"]


def test_prices_on_paper_add_up_to_what_the_budget_was_charged(world: World) -> None:
    tags = [world.project(seat, TAG) for seat in seats(world, 2)]
    plan = world.issued(*tags, places=[(2.0, 2.0), (50.0, 2.0)])
    context = cut_plan_context(plan, school=world.cast.school)
    budget = world.cast.course.budget
    budget.refresh_from_db()
    assert context["quotes_total"] == budget.charged
    for one in context["quotes"]:
        lines = sum((line.amount for line in one["quote"].lines.all()), Decimal(0))
        assert lines == one["quote"].total


def test_a_price_is_worded_in_the_language_of_the_paper(world: World) -> None:
    plan = world.issued(world.project(world.cast.seat))
    quote = plan.quotes.get()
    with in_language("es"):
        spanish = [line.words for line in quote.lines.all()]
    assert spanish[0] == "Metal de tus piezas"
    assert [line.words for line in quote.lines.all()] == [one.text for one in quote.lines.all()]
    (blade,) = (line for line in quote.lines.all() if line.facts.get("per") == "cm_sawn")
    assert f"{blade.facts['name']}, {blade.facts['count']} cm de aserrado" in spanish


def test_a_price_of_earlier_days_keeps_its_words(world: World) -> None:
    with in_language("es"):
        assert QuoteLine(text="Saw blades, 30 cm of sawing").words == "Saw blades, 30 cm of sawing"
        assert QuoteLine(text="Metal in your pieces").words == "Metal de tus piezas"


def test_where_a_plan_is_closed_the_price_as_used_is_printed(world: World) -> None:
    plan = world.issued(world.project(world.cast.seat, TAG))
    planned = plan.quotes.get()
    Quote.objects.create(
        plan=plan,
        project=planned.project,
        kind=Quote.Kind.SETTLED,
        metal_total=Decimal("1.00"),
        total=Decimal("1.23"),
        allowance=planned.allowance,
        piece_area_mm2=planned.piece_area_mm2,
        waste_area_mm2=planned.waste_area_mm2,
    )
    assert cut_plan_context(plan, school=world.cast.school)["quotes_total"] == Decimal("1.23")


def test_both_papers_take_as_many_queries_for_six_projects_as_for_two(world: World) -> None:
    def queries(plan: CutPlan) -> int:
        with CaptureQueriesContext(connection) as caught:
            cut_plan_context(plan, school=world.cast.school)
            placement_sheet_context(plan, school=world.cast.school)
        return len(caught)

    everybody = seats(world, 6)
    small = box(0, 0, 15, 15)
    two = world.issued(
        *(world.project(seat, small) for seat in everybody[:2]),
        places=[(5.0, 5.0), (25.0, 5.0)],
    )
    before = queries(CutPlan.objects.get(pk=two.pk))
    world.brief.pk = None  # the same brief again: a student has one project on each
    world.brief.save()
    four = world.issued(
        *(world.project(seat, small) for seat in everybody),
        places=[(2.0 + 19.0 * n, 30.0) for n in range(6)],
        sheets=world.sheets[1:2],
    )
    assert queries(CutPlan.objects.get(pk=four.pk)) == before


def test_tiles_on_which_nothing_lies_are_left_out_unless_asked_for(world: World) -> None:
    plan = world.issued(world.project(world.cast.seat, TAG), places=[(5.0, 5.0)])
    long = box(0, 0, 120, 600)
    plan.job["metal"][0]["outline"] = long.wkt
    (sheet,) = placement_sheet_context(plan, school=world.cast.school)["sheets"]
    assert sheet.tile_count == 3
    assert [page.tile.name for page in sheet.pages] == ["C1"]
    assert sheet.left_out == ("A1", "B1")
    (whole,) = placement_sheet_context(plan, school=world.cast.school, every_tile=True)["sheets"]
    assert [page.tile.name for page in whole.pages] == ["A1", "B1", "C1"]


def test_the_area_to_abrade_is_the_paper_and_no_more(world: World) -> None:
    plan = world.issued(world.project(world.cast.seat, TAG), places=[(40.0, 30.0)])
    (sheet,) = placement_sheet_context(plan, school=world.cast.school)["sheets"]
    # 40 × 20 mm with a rim of 1.5 mm, its corners round
    assert sheet.abrade_mm2 == pytest.approx(43 * 23 - (4 - 3.1416) * 1.5**2, abs=1.0)


def test_a_piece_in_a_window_makes_the_window_be_cut_out_of_the_paper_first(
    world: World,
) -> None:
    ring = Polygon(box(0, 0, 60, 50).exterior.coords, [box(8, 8, 52, 42).exterior.coords])
    outer = world.project(world.cast.seat, ring)
    inner = world.project(world.cast.classmate_seat, box(0, 0, 20, 15))
    world.issued(outer, inner, places=[(5.0, 5.0), (25.0, 20.0)])
    context = pattern_sheet_context(Pattern.objects.get(project=outer), school=world.cast.school)
    (paper,) = context["guests"]
    assert paper.guests == ("B",)
    own = pattern_sheet_context(Pattern.objects.get(project=inner), school=world.cast.school)
    assert own["guests"] == []


def test_a_panel_that_is_printed_alone_is_joined_to_none(world: World) -> None:
    plan = world.issued(world.project(world.cast.seat, TAG), places=[(5.0, 5.0)])
    plan.job["metal"][0]["outline"] = box(0, 0, 120, 600).wkt
    (sheet,) = placement_sheet_context(plan, school=world.cast.school)["sheets"]
    (page,) = sheet.pages
    assert not sheet.joins
    assert (page.tiling.seams, page.tiling.marks, page.tiling.notes) == ("", "", ())
    (whole,) = placement_sheet_context(plan, school=world.cast.school, every_tile=True)["sheets"]
    assert whole.joins
    assert all(page.tiling.seams and page.tiling.marks for page in whole.pages)


def test_drills_stand_beside_their_holes_and_numbers_hide_no_window(world: World) -> None:
    plan = world.issued(world.project(world.cast.seat))  # one window, one ring mark of 2 mm
    (sheet,) = placement_sheet_context(plan, school=world.cast.school)["sheets"]
    words = {text.text for text in sheet.pages[0].art.drill_sizes}
    assert words == {"Ø 2", "Ø 1.02"}
    (part,) = cut_plan_context(plan, school=world.cast.school)["parts"]
    window = box(12, 8, 22, 16)  # of the piece that lies at 2, 2
    art = part.views[-1].art
    scale = 76.0 / 80.0  # as tall as the paper has room for
    for start in art.starts:
        x, y = (float(start.x) - 3.0) / scale, 80.0 - (float(start.y) - 3.0) / scale
        assert Point(x, y).distance(window) * scale >= float(start.radius) - 2e-3


def test_a_line_to_a_size_goes_round_windows() -> None:
    hole, window = Hole(Point(0, 0), "Ø 1", 1.0), box(-6, -4.2, 6, -3.2)
    (words,) = beside_holes(
        [hole],
        2.0,
        window.boundary,
        box(-60, -60, 60, 60),
        reach_mm=40,
        taken=[box(-9, -3.1, 9, 30), window],
        windows=[window],
    )
    assert words is not None
    assert words.led
    assert not LineString([(0, 0), (words.x, words.y)]).intersects(window)


def test_a_school_that_measures_in_inches_reads_drills_in_decimals(world: World) -> None:
    world.cast.school.units = "in"
    world.cast.school.save()
    plan = world.issued(world.project(world.cast.seat))
    (sheet,) = placement_sheet_context(plan, school=world.cast.school)["sheets"]
    assert {text.text for text in sheet.pages[0].art.drill_sizes} == {"Ø 0.079 in", "Ø 0.040 in"}


def test_a_lone_student_reads_nothing_of_shared_lines(world: World) -> None:
    plan = world.issued(world.project(world.cast.seat, TAG), places=[(10.0, 10.0)])
    context = placement_sheet_context(plan, school=world.cast.school)
    (sheet,) = context["sheets"]
    told = render_to_string("studio/prints/plans/placement_how.html", context | {"sheet": sheet})
    assert "students share" not in told


def test_two_students_who_share_a_line_are_told_how_wide_it_is(world: World) -> None:
    one, other = (world.project(seat, TAG) for seat in seats(world, 2))
    plan = world.issued(one, other, places=[(10.0, 10.0), (50.0 + SHARED, 10.0)])
    context = placement_sheet_context(plan, school=world.cast.school)
    (sheet,) = context["sheets"]
    told = render_to_string("studio/prints/plans/placement_how.html", context | {"sheet": sheet})
    assert "students share a cut, keep the gap" in " ".join(told.split())


def test_a_plans_paper_tells_a_student_only_what_own_pieces_gain(world: World) -> None:
    one, other = (world.project(seat, TAG) for seat in seats(world, 2))
    plan = world.issued(one, other, places=[(10.0, 0.0), (60.0, 30.0)])
    everything = cut_plan_context(plan, school=world.cast.school)["why"]
    assert "edges" in {reason.code for reason in everything.reasons}
    own = cut_plan_context(plan, school=world.cast.school, own=frozenset({other.pk}))["why"]
    assert "edges" not in {reason.code for reason in own.reasons}
