"""An offcut that was measured wrong at the give-back, corrected: areas and masses follow."""

from __future__ import annotations

import csv
import io
import zipfile
from decimal import Decimal

import pytest
from django.urls import reverse
from shapely.geometry import box

from classroom.figures.units import format_mass
from inventory.models import StockPiece
from inventory.rack import correcting
from studio.auditing import audit_plans
from studio.models import CutPlan, Return
from studio.queries.patterns import projects_for
from studio.queries.plans import plans_for
from studio.telling.records.archive import write_archive
from studio.telling.review.balances import added, closed_of
from studio.telling.review.causes import yields_of
from studio.telling.review.entries import Totals, entries_of, totals
from tests.people import signed_in

from .conftest import Class
from .named_figures import Page


def shrink(after: Class, by: float = 200) -> float:
    """The offcut is so many mm² less than was said; answers with that area as it is kept."""
    piece = StockPiece.objects.get(parent__isnull=False)
    before = float(piece.area_mm2)
    correcting.correct(
        piece,
        acting=after.cast.teacher,
        reason="measured again",
        outline=box(0, 0, 60, (before - by) / 60),
    )
    piece.refresh_from_db()
    return before - float(piece.area_mm2)


def of_teacher(after: Class) -> Totals:
    teacher = after.cast.teacher
    return totals(entries_of(plans_for(teacher), projects_for(teacher)))


def test_what_is_less_of_the_offcut_was_scrap_in_every_review(after: Class) -> None:
    before = added("", closed_of(Return.objects.all()))
    sums = of_teacher(after)
    gone = shrink(after)
    now = added("", closed_of(Return.objects.all()))
    assert now.offcuts == pytest.approx(before.offcuts - gone)
    assert now.scrap == pytest.approx(before.scrap + gone)
    assert now.unexplained == pytest.approx(before.unexplained, abs=0.01)
    assert now.expected_g == pytest.approx(before.expected_g + after.closed.metal.mass_g(gone))
    later = of_teacher(after)
    assert float(sums.offcuts_mm2 - later.offcuts_mm2) == pytest.approx(gone, abs=0.02)
    assert float(later.scrap_mm2 - sums.scrap_mm2) == pytest.approx(gone, abs=0.02)
    assert later.issued_mm2 == pytest.approx(sums.issued_mm2, abs=Decimal("0.05"))
    assert (later.total, later.metal_money) == (sums.total, sums.metal_money)
    (one,) = yields_of(CutPlan.objects.all())
    assert one.used == pytest.approx(now.out - now.offcuts)
    assert list(audit_plans()) == []


def test_the_balance_and_the_archive_follow(after: Class) -> None:
    gone = shrink(after)
    page = signed_in(after.cast.teacher).get(reverse("plan_return", args=[after.closed.pk]))
    assert "The size of an offcut was corrected since" in page.content.decode()
    area = page.context["area"]
    assert area["offcuts"] == pytest.approx(float(StockPiece.objects.get(parent__gt=0).area_mm2))
    assert page.context["stock"][0]["area_mm2"] == pytest.approx(area)
    file = io.BytesIO()
    write_archive(after.cast.course, file)
    text = zipfile.ZipFile(file).read("returns.csv").decode("utf-8-sig")
    (row,) = csv.DictReader(io.StringIO(text))
    written = Return.objects.get().balance["area_mm2"]
    assert float(row["scrap_mm2"]) == pytest.approx(written["scrap"] + gone)
    assert max(len(row[name].partition(".")[2]) for name in row) <= 2
    metal = zipfile.ZipFile(file).read("metal.csv").decode("utf-8-sig")
    moved = list(csv.DictReader(io.StringIO(metal)))
    assert [float(one["area_mm2"]) for one in moved if one["kind"] == "correct"] == [-gone]


def test_an_offcut_that_grew_by_more_than_the_scrap_leaves_that_unexplained(after: Class) -> None:
    sums, written = of_teacher(after), Return.objects.get().balance["area_mm2"]
    more = -shrink(after, -written["scrap"] - 500)
    page = signed_in(after.cast.teacher).get(reverse("plan_return", args=[after.closed.pk]))
    area, now = page.context["area"], added("", closed_of(Return.objects.all()))
    assert area["scrap"] == now.scrap == 0.0
    assert area["unexplained"] == pytest.approx(written["scrap"] - more, abs=0.02)
    assert now.unexplained == area["unexplained"]
    parts = (area[name] for name in ("pieces", "offcuts", "kerf", "scrap", "unexplained"))
    assert sum(parts) == pytest.approx(area["out"], abs=0.01)
    assert "−5.0" in page.content.decode()
    later = of_teacher(after)
    assert later.issued_mm2 == pytest.approx(sums.issued_mm2, abs=Decimal("0.05"))
    assert later.issued_g == pytest.approx(sums.issued_g, abs=0.01)


def test_only_the_scrap_of_its_own_stock_piece_makes_an_offcut_larger(after: Class) -> None:
    """The plan had another stock piece out that has all of the scrap."""
    back, piece = Return.objects.get(), StockPiece.objects.get(parent__isnull=False)
    (own,) = back.balance["stock"]
    other = own | {"code": "X-9", "area_mm2": own["area_mm2"] | {"scrap": 770.0}, "offcuts": []}
    own["area_mm2"]["scrap"], back.balance["stock"] = 0.0, [own, other]
    back.balance["area_mm2"] = {
        name: own["area_mm2"][name] + other["area_mm2"][name] for name in own["area_mm2"]
    }
    back.save()
    shrink(after, -300)
    page = signed_in(after.cast.teacher).get(reverse("plan_return", args=[after.closed.pk]))
    assert [one["area_mm2"]["scrap"] for one in page.context["stock"]] == [0.0, 770.0]
    assert page.context["area"]["scrap"] == added("", closed_of(Return.objects.all())).scrap == 770
    assert piece.parent is not None


def test_the_form_that_corrects_the_scrap_expects_what_the_balance_expects(after: Class) -> None:
    shrink(after, 3000)
    teacher = signed_in(after.cast.teacher)
    page = teacher.get(reverse("plan_return", args=[after.closed.pk]))
    expected = page.context["mass"]["scrap_expected"]
    form = teacher.get(reverse("plan_scrap_correct", args=[after.closed.pk])).content.decode()
    assert f"About {format_mass(expected)} is expected" in form
    assert added("", closed_of(Return.objects.all())).expected_g == pytest.approx(expected)


def test_what_the_scales_say_otherwise_is_rounded_in_one_way(after: Class) -> None:
    """2.945 g less is 3.0 g less wherever it stands: to a hundredth, and then to a tenth."""
    back = Return.objects.get()
    back.balance["mass_g"]["scrap_expected"] = 5.445
    back.save()
    teacher = signed_in(after.cast.teacher)
    for name, pk in (("plan_return", after.closed.pk), ("course_review", after.cast.course.pk)):
        figures = Page(teacher.get(reverse(name, args=[pk])).content).figures
        assert {text for what, text in figures if what == "scales_g"} == {"−3.0 g"}
