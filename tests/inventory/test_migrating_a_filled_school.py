"""The tables grow what corrections and hands need, and what a school has written down comes
through."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from django.db import IntegrityError, connections, transaction
from django.db.migrations.loader import MigrationLoader

BEFORE = (("inventory", "0002_who_ticked"), ("studio", "0008_one_word_for_one_thing"))
AFTER = (
    ("inventory", "0003_corrected_figures"),
    ("inventory", "0004_price_of_a_line"),
    ("inventory", "0005_rough_edges"),
    ("studio", "0009_hands"),
    ("studio", "0010_layouts"),
)
DAY = dt.date(2026, 11, 2)


def filled_then_migrated(name: str) -> Any:
    """The models of the new version, after a school that the version before has filled."""
    connection = connections[name]
    loader = MigrationLoader(connection)
    state = loader.project_state(list(BEFORE))
    with connection.schema_editor() as editor:
        for model in state.apps.get_models():
            editor.create_model(model)
    fill(state.apps, name)
    with connection.schema_editor() as editor:
        for one in AFTER:
            state = loader.get_migration(*one).apply(state, editor)
    return state.apps


def fill(apps: Any, name: str) -> None:
    """A purchase with a written price, scrap sold, all by the version before."""

    def make(model: str, **fields: Any) -> Any:
        app, _, kind = model.partition(".")
        return apps.get_model(app, kind).objects.using(name).create(**fields)

    school = make("classroom.School", name="Saltmarsh Harbour School")
    teacher = make("classroom.User", username="marit", display_name="Marit", school=school)
    metal = make(
        "inventory.Metal", school=school, alloy_code="C11000", thickness_mm=Decimal("0.812")
    )
    size = {"width_mm": Decimal("152.40"), "height_mm": Decimal("304.80")}
    make(
        "inventory.MetalPrice", metal=metal, amount=Decimal("10.00"), dated=DAY,
        recorded_by=teacher, remark="bought Quayside", **size,
    )  # fmt: skip
    for _ in range(2):  # of these, either may have been written down with the second line
        make(
            "inventory.MetalPrice", metal=metal, amount=Decimal("7.00"), dated=DAY,
            recorded_by=teacher, remark="bought Quayside", **size,
        )  # fmt: skip
    purchase = make(
        "inventory.Purchase", school=school, bought_on=DAY, seller="Quayside", recorded_by=teacher
    )
    make(
        "inventory.PurchaseLine", purchase=purchase, metal=metal, count=4,
        total=Decimal("42.00"), extras=Decimal("2.00"), **size,
    )  # fmt: skip
    make(
        "inventory.PurchaseLine", purchase=purchase, metal=metal, count=1,
        total=Decimal("7.00"), **size,
    )  # fmt: skip
    for code, clean in (("CU-0.81-001", True), ("CU-0.81-002", False)):
        make(
            "inventory.StockPiece", school=school, metal=metal, code=code, kind="sheet",
            outline="POLYGON ((0 0, 90 0, 90 60, 0 60, 0 0))", area_mm2=5400, width_mm=90,
            height_mm=60, cost=Decimal("7.00"), clean_edges=clean,
        )  # fmt: skip
    make("studio.PlacingSettings", school=school, edge_margin_mm=Decimal("0.70"))
    course = make(
        "classroom.Course", school=school, title="Metals 1", term="2026", starts_on=DAY, ends_on=DAY
    )
    brief = make(
        "studio.Brief", course=course, title="Key tag", allowance=9, kerf_mm=Decimal("0.28"),
        created_by=teacher,
    )  # fmt: skip
    seat = make("classroom.Seat", course=course, student=teacher)
    project = make("studio.Project", brief=brief, seat=seat, metal=metal)
    pattern = make(
        "studio.Pattern", project=project, number=1, state="approved", remark="Well sawn",
        sha256="0", file_name="tag.svg", tracing={}, drawing_json=[],
    )  # fmt: skip
    plan = make("studio.CutPlan", course=course, metal=metal, job={}, created_by=teacher)
    make("studio.PlanProject", plan=plan, project=project, pattern=pattern)
    make(
        "inventory.ScrapSale", school=school, alloy_code="C11000", mass_g=Decimal(300),
        amount=Decimal(0), sold_on=DAY, actor=teacher,
    )  # fmt: skip


def test_what_was_written_down_comes_through_and_can_be_corrected(apart: str) -> None:
    apps = filled_then_migrated(apart)

    def rows(model: str) -> Any:
        return apps.get_model("inventory", model).objects.using(apart)

    price, *unclear = rows("MetalPrice").order_by("pk")
    line, sale = rows("PurchaseLine").order_by("pk")[0], rows("ScrapSale").get()
    assert price.purchase_line == line
    assert {one.purchase_line for one in unclear} == {None}
    assert (price.amount, price.corrects, price.reason, price.withdrawn) == (10, None, "", False)
    assert (line.count, line.total) == (4, 42)
    assert (sale.mass_g, sale.corrects, sale.reason) == (300, None, "")
    rows("PurchaseCorrection").create(
        purchase_id=line.purchase_id, line_id=line.pk, before={"total": "42.00"},
        after={"total": "48.00"}, reason="misread", actor_id=price.recorded_by_id,
    )  # fmt: skip
    kept = rows("PurchaseCorrection").get()
    assert (kept.kept, kept.before) == (0, {"total": "42.00"})
    with pytest.raises(IntegrityError), transaction.atomic(using=apart):
        rows("PurchaseLine").filter(pk=line.pk).update(count=0)  # no sheets, and yet a cost
    with pytest.raises(IntegrityError), transaction.atomic(using=apart):
        rows("ScrapSale").update(mass_g=0)  # nothing sold, and it corrects no sale


def test_edges_margins_briefs_and_plans_come_through_and_nobody_is_given_a_hand(apart: str) -> None:
    apps = filled_then_migrated(apart)

    def rows(model: str) -> Any:
        return apps.get_model(*model.split(".")).objects.using(apart)

    pieces = rows("inventory.StockPiece").order_by("code").values_list("clean_edges", "rough_edges")
    assert list(pieces) == [(True, ""), (False, "")]
    settings = rows("studio.PlacingSettings").get()
    assert (settings.edge_margin_mm, settings.hand) == (Decimal("0.70"), "")
    assert {settings.first_gap_mm, settings.surer_gap_mm, settings.rim_mm} == {None}
    brief = rows("studio.Brief").get()
    assert (brief.kerf_mm, brief.hand) == (Decimal("0.28"), "")
    with pytest.raises(IntegrityError), transaction.atomic(using=apart):
        rows("inventory.StockPiece").update(rough_edges="MULTILINESTRING ((0 0, 90 0))")
    # and students may lay out from now on
    brief, pattern, share = (
        rows(f"studio.{name}").get() for name in ("Brief", "Pattern", "PlanProject")
    )
    assert (brief.laid_by, brief.least_kept_percent) == ("first", None)
    assert (pattern.remark, pattern.mark) == ("Well sawn", None)
    assert (share.layout, share.layout_told, share.live) == (None, "", True)
    own = {
        "project_id": share.project_id,
        "owner_id": brief.created_by_id,
        "chosen": True,
        "job": {},
    }
    rows("studio.Layout").create(number=1, **own)
    with pytest.raises(IntegrityError), transaction.atomic(using=apart):
        rows("studio.Layout").create(number=2, **own)  # one try counts
    with pytest.raises(IntegrityError), transaction.atomic(using=apart):
        rows("studio.Layout").create(
            number=3, plan_id=share.plan_id, **own
        )  # of a project or of a plan
