"""An offcut that was measured wrong at the give-back, corrected: areas and masses follow."""

from __future__ import annotations

import csv
import io
import zipfile
from decimal import Decimal

import pytest
from django.urls import reverse
from shapely.geometry import box

from inventory import correcting
from inventory.models import StockPiece
from studio.archive import write_archive
from studio.auditing import audit_plans
from studio.models import CutPlan, Return
from studio.queries import plans_for, projects_for
from studio.reviewing.balances import added, closed_of
from studio.reviewing.causes import yields_of
from studio.reviewing.entries import Totals, entries_of, totals
from tests.studio.plans.making import visit

from .conftest import Class


def shrink(after: Class) -> float:
    """The offcut is 20 × 10 mm less than was said; answers with that area."""
    piece = StockPiece.objects.get(parent__isnull=False)
    before = float(piece.area_mm2)
    correcting.correct(
        piece,
        acting=after.cast.teacher,
        reason="measured again",
        outline=box(0, 0, 60, (before - 200) / 60),
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
    page = visit(after.cast.teacher).get(reverse("plan_return", args=[after.closed.pk]))
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
