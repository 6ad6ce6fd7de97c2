"""No figure that a person typed stands uncorrectable: each names the page that puts it right.

A new field for a number, a day or a size fails the walk until it stands in this table. Whoever
may type it has to be let in to the page that corrects it, and that page has to be in the table
of inventory/README.md, with how it does it. How each of them corrects is shown by its own tests.
"""

from __future__ import annotations

import importlib
import pkgutil
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from django import forms

from classroom.forms.lengths import LengthField
from classroom.permissions import POLICY
from inventory.forms.fields import PointsField, WeightField

from .addresses import ALL

FIGURES = (
    forms.IntegerField,  # decimals, money and floats are kinds of it
    forms.DateField,
    forms.DateTimeField,
    forms.DurationField,
    LengthField,
    PointsField,
    WeightField,
)
VIEWS = {pattern.name: pattern.callback for _, pattern in ALL}


@dataclass(frozen=True)
class Way:
    """The page on which a figure is typed, and the one on which it is corrected."""

    typed_at: str
    corrected_at: str
    corrects: bool = False  # the form is the correction itself


ASKED = "only asked: nothing is kept"
BUILT_ON = "a base of other forms, shown on no page itself"

TABLE: dict[str, Way | str] = {
    # Metal bought
    "inventory.PurchaseForm": Way("receive", "purchase_correct"),
    "inventory.LineForm": Way("receive", "purchase_correct"),
    "inventory.LineForm.measured": Way("receive", "stock_correct"),
    "inventory.CorrectHeadForm": Way("purchase_correct", "purchase_correct", corrects=True),
    "inventory.CorrectLineForm": Way("purchase_correct", "purchase_correct", corrects=True),
    "inventory.OrderForm": Way("order_new", "order_close"),
    "inventory.OrderLineForm": Way("order_new", "order_close"),
    "inventory.PriceForm": Way("metal_price_new", "metal_price_correct"),
    "inventory.CorrectPriceForm": Way("metal_price_correct", "metal_price_correct", corrects=True),
    # Stock pieces
    "inventory.OffcutFacts": BUILT_ON,
    "inventory.OutlineForm": BUILT_ON,
    "inventory.OffcutForm": Way("offcut_new", "stock_correct"),
    "inventory.CorrectForm": Way("stock_correct", "stock_correct", corrects=True),
    "studio.DrawnOffcutForm": Way("offcut_from_svg", "stock_correct"),
    "studio.MetalPhotoForm": Way("offcut_from_photo", "stock_correct"),
    "studio.KeepPhotoForm": Way("offcut_from_photo", "stock_correct"),
    "inventory.RackFilter": ASKED,
    "studio.FitForm": ASKED,
    # Scrap
    "studio.ReturnForm": Way("plan_return", "plan_scrap_correct"),
    "studio.CorrectPartForm": Way("part_correct", "part_correct", corrects=True),
    "studio.CorrectScrapForm": Way("plan_scrap_correct", "plan_scrap_correct", corrects=True),
    "inventory.ScrapPieceForm": Way("stock_scrap", "scrap_correct"),
    "inventory.WeighForm": Way("scrap_boxes", "scrap_correct"),
    "inventory.CorrectWeighingForm": Way("scrap_correct", "scrap_correct", corrects=True),
    "inventory.SellScrapForm": Way("scrap_sell", "scrap_sale_correct"),
    "inventory.CorrectSaleForm": Way("scrap_sale_correct", "scrap_sale_correct", corrects=True),
    # Money and supplies
    "inventory.AllotForm": Way("budget_allot", "budget_allot"),
    "inventory.TransferForm": Way("budget_transfer", "budget_transfer"),
    "inventory.ConsumableForm": Way("supply_new", "supply_edit"),
    "inventory.SupplyStockForm": Way("supply_stock", "supply_entry_correct"),
    "inventory.CorrectEntryForm": Way(
        "supply_entry_correct", "supply_entry_correct", corrects=True
    ),
    # People and safety
    "classroom.RequestForm": BUILT_ON,
    "classroom.EraseForm": Way("student_erase", "erasure_correct"),
    "classroom.CorrectRequestForm": Way("erasure_correct", "erasure_correct", corrects=True),
    "classroom.CourseForm": Way("course_new", "course_edit"),
    "classroom.SchoolForm": Way("school_settings", "school_settings"),
    "classroom.SignaturesForm": Way("guardian_forms", "guardian_take_back"),
    "classroom.PermitForm": Way("permit_give", "permit_withdraw"),
    "classroom.TopicForm": Way("topic_new", "topic_edit"),
    "classroom.IncidentForm": Way("incident_new", "incident_correct"),
    "classroom.CorrectionForm": Way("incident_correct", "incident_correct", corrects=True),
    # Briefs, patterns and plans
    "studio.BriefForm": Way("brief_new", "brief_edit"),
    "studio._WithMetal": BUILT_ON,
    "studio.PatternForm": Way("pattern_upload", "pattern_upload"),
    "studio.PatternForm.copies": Way("pattern_upload", "pattern_metal"),
    "studio.MetalForm": Way("pattern_metal", "pattern_metal"),
    "studio.MarkForm": Way("pattern_waiting", "pattern_upload"),
    "studio.WidthForm": Way("pattern_waiting", "pattern_upload"),
    "studio.DpiForm": Way("pattern_waiting", "pattern_upload"),
    "studio.PlacingSettingsForm": Way("placing_settings", "placing_settings"),
    "studio.AgainForm": Way("plan_again", "plan_again"),
    "studio.RoomToolsForm": Way("frame_depth", "frame_depth"),
    "studio.PrinterForm": Way("printers", "printers"),
}


def typed_figures() -> Iterator[tuple[str, str]]:
    """Form and field of every figure that can be typed, such as "inventory.LineForm", "price"."""
    for app in ("classroom", "inventory", "studio"):
        package = importlib.import_module(f"{app}.forms")
        for found in pkgutil.walk_packages(package.__path__, f"{app}.forms."):
            module = importlib.import_module(found.name)
            for name, form in vars(module).items():
                if not (isinstance(form, type) and issubclass(form, forms.BaseForm)):
                    continue
                if form.__module__ != module.__name__:
                    continue
                for field_name, field in form.base_fields.items():
                    if isinstance(field, FIGURES) and not field.widget.is_hidden:
                        yield f"{app}.{name}", field_name


FOUND = sorted(typed_figures())


def test_every_figure_names_where_it_is_corrected() -> None:
    bare = [f"{form}.{name}" for form, name in FOUND if not {form, f"{form}.{name}"} & set(TABLE)]
    assert bare == []


def test_the_table_names_nothing_that_is_gone() -> None:
    there = {form for form, _ in FOUND} | {f"{form}.{name}" for form, name in FOUND}
    assert set(TABLE) - there == set()


@pytest.mark.parametrize("name", [name for name, way in TABLE.items() if isinstance(way, Way)])
def test_whoever_may_type_it_may_correct_it(name: str) -> None:
    way = TABLE[name]
    assert isinstance(way, Way)
    typed, corrected = (VIEWS[page].action for page in (way.typed_at, way.corrected_at))
    assert POLICY[typed] <= POLICY[corrected]
    assert not way.corrects or way.typed_at == way.corrected_at


def test_developers_read_how_each_page_corrects() -> None:
    text = (Path(__file__).parents[2] / "inventory" / "README.md").read_text(encoding="utf-8")
    section = text.partition("# Figures that people type\n")[2].partition("\n## ")[0]
    pages = {way.corrected_at for way in TABLE.values() if isinstance(way, Way)}
    assert pages - set(re.findall(r"`([a-z_]+)`", section)) == set()
