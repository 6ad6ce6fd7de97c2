"""Forms of the budget and of the scrap boxes."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django import forms
from django.db.models import Max, Q

from classroom.figures import units
from classroom.models import Course, School, User
from classroom.queries import courses_for
from classroom.wording.typed_lines import plain_line, tidy
from inventory import metals
from inventory.buying.prices import newest_per_g
from inventory.models import Budget, BudgetEntry, BudgetTransfer, ScrapEntry, ScrapSale
from inventory.plausible import SCALE_G, WEIGHT_OFF, Doubt, factor_doubt, money_doubt, sale_doubt
from inventory.rack.scrap import (
    box_mass,
    came_mass,
    last_sale_per_g,
    most_scrap,
    scrap_boxes,
    weight_of,
)

from .asking import AskingForm
from .fields import MoneyField, SentOnceForm, WeightField, day_field, sensible_day, use_school


class AllotForm(AskingForm, SentOnceForm):
    direction = forms.ChoiceField(
        label="What happens",
        choices=[("in", "Put money in"), ("back", "Take unused money back")],
        initial="in",
        widget=forms.RadioSelect,
    )
    amount = MoneyField(least=Decimal("0.01"))
    reason = forms.CharField(label="Why", max_length=160)

    def __init__(self, *args: Any, course: Course, acting: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.course, self.currency = course, acting.school.currency
        use_school(self, acting.school)

    def doubts(self) -> Sequence[Doubt]:
        """Money put in against the largest amount so far; no more than is there goes back."""
        data = self.cleaned_data
        if data["direction"] != "in":
            return ()
        most = BudgetEntry.objects.filter(
            budget__course=self.course, kind=BudgetEntry.Kind.ALLOTMENT, cause=""
        ).aggregate(most=Max("amount"))["most"]
        what = "the largest amount that was ever put in"
        doubt = money_doubt("amount", data["amount"], most, what=what, currency=self.currency)
        return [doubt] if doubt else []

    def clean_reason(self) -> str:
        return plain_line(self.cleaned_data["reason"])

    @property
    def signed(self) -> Decimal:
        """The amount, negative where money is taken back. Only after `is_valid`."""
        amount: Decimal = self.cleaned_data["amount"]
        return amount if self.cleaned_data["direction"] == "in" else -amount


class CorrectWeighingForm(AskingForm):
    weight = WeightField(label="What the scales should have said", least_g=Decimal(0))
    reason = forms.CharField(label="Why", max_length=90)

    def __init__(self, *args: Any, entry: ScrapEntry, acting: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.entry, self.units, self.most = entry, acting.school.units, most_scrap(entry)
        if self.most is not None:
            likely = units.format_mass(self.most, self.units)
            self.fields[
                "weight"
            ].help_text = (
                f"At most {likely} is expected: what its cut plan used up, pieces and all."
            )
        use_school(self, acting.school)

    def doubts(self) -> Sequence[Doubt]:
        weight, counted = self.cleaned_data["weight"], abs(weight_of(self.entry))
        said, most = units.format_mass(weight, self.units), self.most
        if most is not None and float(weight) > most * (1 + WEIGHT_OFF) + SCALE_G:
            left = units.format_mass(most, self.units)
            text = f"{said} of scrap cannot be: its cut plan used up {left}, pieces and all."
            return [Doubt("weight", text, impossible=True)]
        before = units.format_mass(counted, self.units)
        doubt = factor_doubt("weight", weight, counted, f"{said}; so far it was {before}.")
        return [doubt] if doubt else []

    def clean_reason(self) -> str:
        return plain_line(self.cleaned_data["reason"])


class WeighForm(AskingForm, SentOnceForm):
    direction = forms.ChoiceField(
        label="What happens",
        choices=[
            ("in", "Scrap goes into the box"),
            ("out", "Metal leaves the box (melted, given away)"),
        ],
        initial="in",
        widget=forms.RadioSelect,
    )
    alloy_code = forms.ChoiceField(
        label="Alloy", choices=[(alloy.code, alloy.name) for alloy in metals.ALLOYS]
    )
    weight = WeightField(label="Weight on the scale")
    reason = forms.CharField(
        label="Why", max_length=160, help_text="Such as “bench trays emptied” or “melted”."
    )

    def __init__(self, *args: Any, acting: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.school = acting.school
        use_school(self, acting.school)

    def doubts(self) -> Sequence[Doubt]:
        """More scrap than metal of this alloy ever came, which the records would know of."""
        data, school = self.cleaned_data, self.school
        came = came_mass(school, data["alloy_code"])
        held = float(box_mass(school, data["alloy_code"]))
        most = came * (1 + WEIGHT_OFF) + SCALE_G
        if data["direction"] != "in" or not came or held + float(data["weight"]) <= most:
            return ()
        said = units.format_mass(data["weight"], school.units)
        text = (
            f"{said} is more than can be expected: by the records "
            f"{units.format_mass(came, school.units)} of this alloy ever came to the school, and "
            f"{units.format_mass(held, school.units)} of it lies in the box. Look at the alloy and "
            "at the scale's unit."
        )
        return [Doubt("weight", text)]

    def clean_reason(self) -> str:
        return plain_line(self.cleaned_data["reason"])


class CourseChoice(forms.ModelChoiceField[Course]):
    """One of the teacher's running courses, for its budget."""

    def label_from_instance(self, obj: Course) -> str:
        return f"{obj}, {obj.term}"


def sale_doubts(
    school: School,
    alloy_code: str,
    amount: Decimal,
    weight_g: Decimal,
    *,
    besides: ScrapSale | None = None,
) -> list[Doubt]:
    """The question about what a sale brought, where there is one."""
    doubt = sale_doubt(
        "amount",
        amount,
        weight_g,
        new_per_g=newest_per_g(school, alloy_code),
        last_per_g=last_sale_per_g(school, alloy_code, besides),
        currency=school.currency,
    )
    return [doubt] if doubt else []


class SellScrapForm(AskingForm, SentOnceForm):
    """Only alloys whose box holds something are for sale."""

    alloy_code = forms.ChoiceField(
        label="Alloy",
        error_messages={"invalid_choice": "That alloy's scrap box is empty: nothing can be sold."},
    )
    weight = WeightField(label="Weight sold")
    amount = MoneyField(label="Received")
    budget = CourseChoice(
        label="It goes to the budget of",
        queryset=Course.objects.none(),
        required=False,
        empty_label="Choose …",
    )
    buyer = forms.CharField(label="Sold to", max_length=120, required=False)
    sold_on = day_field("Sold on")

    def __init__(self, *args: Any, acting: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["budget"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = courses_for(acting).filter(closed_at=None)
        alloys: Any = self.fields["alloy_code"]
        held = [box for box in scrap_boxes(acting.school) if box.mass_g > 0]
        alloys.choices = [
            (
                box.alloy.code,
                f"{box.alloy.name}: {units.format_mass(box.mass_g, acting.school.units)}",
            )
            for box in held
        ]
        alloys.help_text = "" if held else "No scrap box holds anything yet."
        self.school = acting.school
        use_school(self, acting.school)

    def doubts(self) -> Sequence[Doubt]:
        data = self.cleaned_data
        return sale_doubts(self.school, data["alloy_code"], data["amount"], data["weight"])

    def clean_buyer(self) -> str:
        return tidy(self.cleaned_data["buyer"])

    def clean_sold_on(self) -> dt.date:
        day: dt.date = sensible_day(self.cleaned_data["sold_on"])
        return day

    def clean(self) -> dict[str, Any]:
        super().clean()
        if self.cleaned_data.get("amount") and not self.cleaned_data.get("budget"):
            self.add_error("budget", "Choose the budget that the money goes to.")
        return self.cleaned_data


class CorrectSaleForm(AskingForm):
    """What a sale should have said; its alloy stays, as that is another box."""

    weight = WeightField(
        label="Weight sold", least_g=Decimal(0), help_text="0 if nothing was sold."
    )
    amount = MoneyField(label="Received")
    budget = CourseChoice(
        label="It goes to the budget of",
        queryset=Course.objects.none(),
        required=False,
        empty_label="None",
    )
    buyer = forms.CharField(label="Sold to", max_length=120, required=False)
    sold_on = day_field("Sold on")
    reason = forms.CharField(label="What was wrong", max_length=120)

    def __init__(self, *args: Any, sale: ScrapSale, acting: User, **kwargs: Any) -> None:
        kwargs["initial"] = {
            "weight": f"{sale.mass_g.normalize():f} g",
            "amount": sale.amount,
            "budget": sale.budget.course_id if sale.budget else None,
            "buyer": sale.buyer,
            "sold_on": sale.sold_on,
        }
        super().__init__(*args, **kwargs)
        field = self.fields["budget"]
        assert isinstance(field, forms.ModelChoiceField)
        own = sale.budget.course_id if sale.budget else None
        field.queryset = courses_for(acting).filter(Q(closed_at=None) | Q(pk=own))
        self.sale = sale
        use_school(self, acting.school)

    def doubts(self) -> Sequence[Doubt]:
        data, sale = self.cleaned_data, self.sale
        return sale_doubts(
            sale.school, sale.alloy_code, data["amount"], data["weight"], besides=sale
        )

    def clean_buyer(self) -> str:
        return tidy(self.cleaned_data["buyer"])

    def clean_reason(self) -> str:
        return plain_line(self.cleaned_data["reason"])

    def clean_sold_on(self) -> dt.date:
        day: dt.date = sensible_day(self.cleaned_data["sold_on"])
        return day


class TransferForm(AskingForm, SentOnceForm):
    target = CourseChoice(
        label="To the budget of", queryset=Course.objects.none(), empty_label="Choose …"
    )
    transfer_amount = MoneyField(label="Amount", least=Decimal("0.01"))
    transfer_reason = forms.CharField(label="Why", max_length=120)

    def __init__(self, *args: Any, source: Course, acting: User, **kwargs: Any) -> None:
        kwargs.setdefault("auto_id", "id_transfer_%s")  # the page has another form that asks
        super().__init__(*args, **kwargs)
        self.source, self.currency = source, acting.school.currency
        field = self.fields["target"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = courses_for(acting).filter(closed_at=None).exclude(pk=source.pk)
        use_school(self, acting.school)

    def doubts(self) -> Sequence[Doubt]:
        """Against the largest amount that was moved so far."""
        moved = BudgetTransfer.objects.filter(source__course=self.source)
        most = moved.aggregate(most=Max("amount"))["most"]
        amount, what = self.cleaned_data["transfer_amount"], "the largest amount ever moved"
        doubt = money_doubt("transfer_amount", amount, most, what=what, currency=self.currency)
        return [doubt] if doubt else []

    def clean_transfer_reason(self) -> str:
        return plain_line(self.cleaned_data["transfer_reason"])


class PolicyForm(forms.Form):
    """What a project pays for metal, each way explained in one sentence."""

    policy = forms.ChoiceField(
        label="A project pays for",
        choices=[
            (
                Budget.CostPolicy.SHARED,
                "Metal in its pieces and, by piece area, a share of the waste (kerf and scrap), "
                "so that the projects together pay exactly what the plan costs.",
            ),
            (
                Budget.CostPolicy.SCHOOL,
                "Metal in its pieces only, while the course's budget bears the waste (kerf and "
                "scrap).",
            ),
            (
                Budget.CostPolicy.RECTANGLE,
                "The rectangle around each piece, 3 mm longer on both sides, while what the metal "
                "costs beyond that, or less, is the course's.",
            ),
        ],
        widget=forms.RadioSelect,
    )
