"""Correcting a purchase: its head and each of its lines, as they stand now."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django import forms

from classroom.figures.units import format_mass
from classroom.forms.lengths import LengthField
from classroom.models import User
from classroom.wording.typed_lines import plain_line, tidy
from inventory.buying.correcting import RightHead, RightLine
from inventory.buying.prices import last_per_mm2, written_with
from inventory.buying.sheet_line import MOST_SHEETS
from inventory.models import Purchase, PurchaseLine
from inventory.plausible import Doubt, extras_doubt, price_doubt, weight_doubt
from inventory.rack.outlines import LEAST_WIDTH_MM, MOST_WIDTH_MM

from .asking import AskingForm
from .fields import MoneyField, SentOnceForm, WeightField, day_field, sensible_day, use_school


class CorrectHeadForm(AskingForm, SentOnceForm):
    bought_on = day_field("Bought on")
    seller = forms.CharField(label="Bought from", max_length=120, required=False)
    reference = forms.CharField(label="Receipt or order number", max_length=60, required=False)
    freight = MoneyField(label="Freight")
    tax = MoneyField(label="Tax on the whole")
    reason = forms.CharField(
        label="What was wrong", max_length=160, help_text="Such as “misread the receipt”."
    )
    # How many corrections the person saw: two people do not correct over each other.
    seen = forms.IntegerField(widget=forms.HiddenInput, min_value=0, max_value=10**6)

    def __init__(
        self,
        *args: Any,
        purchase: Purchase,
        lines: Sequence[CorrectLineForm],
        acting: User,
        **kwargs: Any,
    ) -> None:
        names = ("bought_on", "seller", "reference", "freight", "tax")
        kwargs["initial"] = {name: getattr(purchase, name) for name in names} | {
            "seen": purchase.corrections.count()
        }
        super().__init__(*args, **kwargs)
        self.lines, self.currency = lines, acting.school.currency
        use_school(self, acting.school)

    def doubts(self) -> Sequence[Doubt]:
        """Freight and tax against the lines, once all of these can be read."""
        if not all(form.is_valid() or form.asked for form in self.lines):
            return ()
        rights = [form.right() for form in self.lines]
        price = sum((one.price for one in rights if one.count), Decimal(0))
        data = self.cleaned_data
        doubt = extras_doubt(data["freight"], data["tax"], price, currency=self.currency)
        return [doubt] if doubt else []

    def clean_bought_on(self) -> dt.date:
        day: dt.date = sensible_day(self.cleaned_data["bought_on"])
        return day

    def clean_seller(self) -> str:
        return tidy(self.cleaned_data["seller"])

    def clean_reference(self) -> str:
        return tidy(self.cleaned_data["reference"])

    def clean_reason(self) -> str:
        return plain_line(self.cleaned_data["reason"])

    def right(self) -> RightHead:
        """What the head should say. Only after `is_valid`."""
        data = self.cleaned_data
        return RightHead(
            data["bought_on"], data["seller"], data["reference"], data["freight"], data["tax"]
        )


class CorrectLineForm(AskingForm):
    count = forms.IntegerField(
        label="Sheets",
        min_value=0,
        max_value=MOST_SHEETS,
        help_text="0 if the line was entered by mistake.",
    )
    width = LengthField(least_mm=LEAST_WIDTH_MM, most_mm=MOST_WIDTH_MM)
    height = LengthField(least_mm=LEAST_WIDTH_MM, most_mm=MOST_WIDTH_MM)
    price = MoneyField(label="Price of all its sheets")
    weight = WeightField(label="Weight of all its sheets", required=False)

    def __init__(self, *args: Any, line: PurchaseLine, acting: User, **kwargs: Any) -> None:
        weight = None if line.weight_g is None else f"{line.weight_g.normalize():f} g"
        kwargs["initial"] = {
            "count": line.count,
            "width": line.width_mm,
            "height": line.height_mm,
            "price": line.price,
            "weight": weight,
        }
        super().__init__(*args, prefix=f"line-{line.pk}", **kwargs)
        self.line, self.school = line, acting.school
        use_school(self, acting.school)
        area = line.width_mm * line.height_mm * line.count
        if area:
            likely = format_mass(line.metal.mass_g(area), self.school.units)
            self.fields["weight"].help_text = f"By size and thickness about {likely} is expected."

    def right(self) -> RightLine:
        """What the line should say. Only after `is_valid`."""
        data = self.cleaned_data
        return RightLine(
            data["count"], data["width"], data["height"], data["price"], data["weight"]
        )

    def doubts(self) -> Sequence[Doubt]:
        right = self.right()
        area = right.width_mm * right.height_mm * right.count
        if not area or not self.has_changed():
            return ()
        found: list[Doubt | None] = []
        if right.weight_g is not None:
            found.append(
                weight_doubt(
                    "weight", right.weight_g, self.line.metal.mass_g(area), self.school.units
                )
            )
        one = right.width_mm * right.height_mm
        found.append(
            price_doubt(
                "price",
                right.price / area,
                last_per_mm2(self.line.metal, besides=written_with(self.line)),
                area_mm2=one,
                currency=self.school.currency,
            )
        )
        return [doubt for doubt in found if doubt is not None]


def line_forms(lines: Sequence[PurchaseLine], data: Any, *, acting: User) -> list[CorrectLineForm]:
    """One form for each line, filled in with what it says now."""
    return [CorrectLineForm(data, line=line, acting=acting) for line in lines]
