"""Writing and changing a brief."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
import time_machine
from django.urls import reverse
from django.utils import timezone

from classroom.models import History, School
from inventory import metals
from inventory.models import Metal
from studio.core.bench.texts import BenchStepKind
from studio.forms.briefs.brief import copied_from, suggested_kerf_mm
from studio.models import Brief
from tests.people import Cast, signed_in
from tests.studio.patterns.making import make_brief, make_metal, words

pytestmark = pytest.mark.usefixtures("_in_november")


@pytest.fixture
def _in_november() -> Any:
    with time_machine.travel(dt.datetime(2026, 11, 25, 15, tzinfo=dt.UTC), tick=False):
        yield


def typed(*allowed: Metal, **other: Any) -> dict[str, Any]:
    return {
        "title": "Harbour pendant",
        "text": "Something seen from our quay.",
        "due_on": "2026-12-11",
        "metals": [metal.pk for metal in allowed],
        "allowance": "6.00",
        "max_width_mm": "60",
        "max_height_mm": "2 3/8 in",
        "least_bridge_mm": "2",
        "least_web_mm": "2 mm",
        "least_hole_edge_mm": "1,5",
        "least_window_mm": "2",
        "offcut_min_width_mm": "12",
        "blade": "2/0",
        "kerf_mm": "",
        "dry_minutes": "20",
        "soak_minutes": "10",
        "teacher_signs": ["dry", "saw"],
    } | other


def test_a_brief_is_written_with_lengths_as_typed(cast: Cast) -> None:
    copper = make_metal(cast)
    answer = signed_in(cast.teacher).post(
        reverse("brief_new", args=[cast.course.pk]), typed(copper)
    )
    brief = Brief.objects.get()
    assert answer.headers["Location"] == reverse("brief", args=[brief.pk])
    assert list(brief.metals.all()) == [copper]
    assert brief.max_height_mm == Decimal("60.33")  # 2 3/8 in = 60.325 mm, to two places
    assert brief.least_hole_edge_mm == Decimal("1.50")
    assert brief.teacher_signs == ["dry", "saw"]
    assert brief.created_by == cast.teacher


def test_an_empty_kerf_is_taken_from_the_blade_table(cast: Cast) -> None:
    signed_in(cast.teacher).post(
        reverse("brief_new", args=[cast.course.pk]), typed(make_metal(cast), blade="3")
    )
    assert Brief.objects.get().kerf_mm == suggested_kerf_mm("3")
    least, most = metals.kerf_advice(metals.blade("3"))
    assert least <= float(suggested_kerf_mm("3")) <= most + 0.005


def test_a_typed_kerf_stays(cast: Cast) -> None:
    signed_in(cast.teacher).post(
        reverse("brief_new", args=[cast.course.pk]), typed(make_metal(cast), kerf_mm="0.42")
    )
    assert Brief.objects.get().kerf_mm == Decimal("0.42")


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("title", ""),
        ("title", "x" * 121),
        ("text", "x" * 4001),
        ("due_on", "2026-11-24"),
        ("due_on", "soon"),
        ("metals", []),
        ("metals", ["9999"]),
        ("allowance", "-1"),
        ("allowance", "NaN"),
        ("allowance", "1e12"),
        ("max_width_mm", ""),
        ("max_width_mm", "4 mm"),
        ("max_width_mm", "1e400"),
        ("least_bridge_mm", "-2"),
        ("least_bridge_mm", "0"),
        ("kerf_mm", "9 mm"),
        ("kerf_mm", "a hair"),
        ("blade", "12/0"),
        ("dry_minutes", "-1"),
        ("dry_minutes", "99999"),
        ("teacher_signs", ["dance"]),
    ],
)
def test_what_makes_no_sense_is_refused_and_the_rest_is_kept(
    cast: Cast, field: str, value: Any
) -> None:
    answer = signed_in(cast.teacher).post(
        reverse("brief_new", args=[cast.course.pk]),
        typed(make_metal(cast)) | {field: value},
    )
    assert answer.status_code == 200
    assert Brief.objects.count() == 0
    assert "is-invalid" in words(answer)
    if field != "max_height_mm":
        assert 'value="2 3/8 in"' in words(answer)


def test_another_schools_metal_cannot_be_allowed(cast: Cast) -> None:
    theirs = Metal.objects.create(
        school=cast.outsider.school, alloy_code="C11000", thickness_mm=Decimal("0.812")
    )
    make_metal(cast)
    answer = signed_in(cast.teacher).post(
        reverse("brief_new", args=[cast.course.pk]), typed(theirs)
    )
    assert answer.status_code == 200
    assert Brief.objects.count() == 0


def test_a_retired_metal_is_offered_only_where_the_brief_names_it_already(cast: Cast) -> None:
    copper = make_metal(cast)
    brief = make_brief(cast, copper)
    Metal.objects.filter(pk=copper.pk).update(retired_at=timezone.now())
    make_metal(cast, "C26000", "0.800")
    client = signed_in(cast.teacher)
    assert "no longer bought" in words(client.get(reverse("brief_edit", args=[brief.pk])))
    new = client.get(reverse("brief_new", args=[cast.course.pk]))
    assert "no longer bought" not in words(new)


def test_the_new_form_shows_beginners_values_and_the_usual_signatures(cast: Cast) -> None:
    make_metal(cast)
    page = words(signed_in(cast.teacher).get(reverse("brief_new", args=[cast.course.pk])))
    assert 'name="least_bridge_mm" value="2 mm"' in page
    assert f'value="{BenchStepKind.DRY}"' in page
    assert "checked" in page
    assert "common practice" in page


def test_inch_schools_see_and_type_inches(cast: Cast) -> None:
    School.objects.filter(pk=cast.school.pk).update(units="in")
    copper = make_metal(cast)
    client = signed_in(cast.teacher)
    client.post(
        reverse("brief_new", args=[cast.course.pk]),
        typed(
            copper,
            max_width_mm="2 1/2",
            max_height_mm="3",
            least_bridge_mm="0.08",
            least_web_mm="0.08",
            least_hole_edge_mm="0.08",
            least_window_mm="0.08",
            offcut_min_width_mm="1/2",
        ),
    )
    brief = Brief.objects.get()
    assert brief.max_width_mm == Decimal("63.50")
    assert brief.offcut_min_width_mm == Decimal("12.70")
    assert 'value="2.5 in"' in words(client.get(reverse("brief_edit", args=[brief.pk])))


def test_saving_an_unchanged_brief_changes_nothing(cast: Cast) -> None:
    School.objects.filter(pk=cast.school.pk).update(units="in")
    brief = make_brief(cast, least_bridge_mm=Decimal("1.85"), kerf_mm=Decimal("0.31"))
    client = signed_in(cast.teacher)
    page = client.get(reverse("brief_edit", args=[brief.pk]))
    form = page.context["form"]
    shown = {bound.name: bound.value() for bound in form if bound.value() is not None}
    client.post(reverse("brief_edit", args=[brief.pk]), shown)
    again = Brief.objects.get(pk=brief.pk)
    assert again.limits == brief.limits
    assert again.kerf_mm == brief.kerf_mm


def test_an_earlier_brief_is_taken_over_without_its_due_date(cast: Cast) -> None:
    earlier = make_brief(cast, blade="3", text="As last year.")
    page = words(
        signed_in(cast.teacher).get(
            reverse("brief_new", args=[cast.course.pk]), {"start_from": earlier.pk}
        )
    )
    assert "As last year." in page
    assert "2026-12-11" not in page
    assert 'value="Harbour pendant"' in page


@pytest.mark.parametrize("query", ["x", "999", ""])
def test_an_earlier_brief_that_is_not_there_gives_an_empty_page(cast: Cast, query: str) -> None:
    make_brief(cast)
    answer = signed_in(cast.teacher).get(
        reverse("brief_new", args=[cast.course.pk]), {"start_from": query}
    )
    assert answer.status_code == 200


def test_a_school_without_metals_is_led_to_the_list_of_metals(cast: Cast) -> None:
    page = words(signed_in(cast.teacher).get(reverse("brief_new", args=[cast.course.pk])))
    assert "The school has no metal yet" in page


def test_a_closed_course_takes_no_new_brief(cast: Cast) -> None:
    copper = make_metal(cast)
    cast.course.closed_at = timezone.now()
    cast.course.save()
    answer = signed_in(cast.teacher).post(
        reverse("brief_new", args=[cast.course.pk]), typed(copper)
    )
    assert "This course is closed" in words(answer)
    assert Brief.objects.count() == 0


def test_a_brief_says_who_lays_out_and_how_much_a_layout_keeps(cast: Cast) -> None:
    copper = make_metal(cast)
    brief = make_brief(cast, copper)
    assert (brief.laid_by, brief.least_kept_percent) == ("first", None)
    desk = signed_in(cast.teacher)
    address = reverse("brief_edit", args=[brief.pk])
    desk.post(address, typed(copper, laid_by="stands", least_kept_percent="40"))
    brief.refresh_from_db()
    assert (brief.laid_by, brief.least_kept_percent) == ("stands", 40)
    changed = History.objects.filter(verb="brief-changed").latest("pk")
    assert changed.detail["laid_by"] == "stands"
    page = words(signed_in(cast.owner).get(reverse("brief", args=[brief.pk])))
    assert "each student; the layout stands" in page
    assert "at least 40 % of the metal kept" in page.replace("\u202f", " ")
    from_it = desk.get(reverse("brief_new", args=[cast.course.pk]), {"start_from": brief.pk})
    assert copied_from(brief)["laid_by"] == from_it.context["form"].initial["laid_by"] == "stands"


def test_a_layout_cannot_be_asked_to_keep_all_of_its_metal(cast: Cast) -> None:
    copper = make_metal(cast)
    answer = signed_in(cast.teacher).post(
        reverse("brief_new", args=[cast.course.pk]), typed(copper, least_kept_percent="100")
    )
    assert "least_kept_percent" in answer.context["form"].errors
