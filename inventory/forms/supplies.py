"""The form of one consumable: what it costs and how long it lasts."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django import forms
from django.template.defaultfilters import floatformat

from classroom.models import User
from classroom.wording.typed_lines import plain_line, tidy
from inventory.models import Consumable, SupplyMovement
from inventory.plausible import Doubt, factor_doubt, supply_doubt

from .asking import AskingForm
from .fields import SentOnceForm, day_field, sensible_day


def _short(value: Decimal, least: int) -> str:
    """As people write it: no zeros behind the last figure but for `least` decimals."""
    whole, _, rest = f"{value:f}".partition(".")
    rest = rest.rstrip("0").ljust(least, "0")
    return f"{whole}.{rest}" if rest else whole


def number_doubt(field: str, supply: Consumable, what: str, number: Decimal) -> Doubt | None:
    """A number that came or was counted against what is known of the supply."""
    if what == "count":
        return supply_doubt(field, number, supply.on_hand, what="what is there by the records")
    came = supply.movements.filter(kind=SupplyMovement.Kind.RECEIVE, cause="")
    most = came.order_by("-amount").values_list("amount", flat=True).first()
    return supply_doubt(field, number, most, what="the largest number that ever came")


class CorrectEntryForm(AskingForm):
    """How many really came, or were counted."""

    number = forms.DecimalField(
        label="How many it should have been",
        min_value=0,
        max_value=100_000,
        max_digits=9,
        decimal_places=2,
        widget=forms.TextInput(attrs={"inputmode": "decimal"}),
    )
    reason = forms.CharField(label="What was wrong", max_length=90)

    def __init__(self, *args: Any, entry: SupplyMovement, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.entry = entry

    def clean_reason(self) -> str:
        return plain_line(self.cleaned_data["reason"])

    def doubts(self) -> Sequence[Doubt]:
        what = "count" if self.entry.kind == SupplyMovement.Kind.COUNT else "receive"
        number = self.cleaned_data["number"]
        doubt = number_doubt("number", self.entry.consumable, what, number)
        return [doubt] if doubt else []


FIGURES = ("price", "priced_on", "uses_per_unit", "per", "reorder_at")
"""What is changed only with a reason."""


class ConsumableForm(AskingForm, forms.ModelForm[Consumable]):
    once = forms.UUIDField(widget=forms.HiddenInput, required=False)
    priced_on = day_field("Price of the day")
    why = forms.CharField(
        label="Why a figure changes",
        max_length=160,
        required=False,
        help_text="Kept with what it said before.",
    )

    class Meta:
        model = Consumable
        fields = [
            "name", "kind", "unit", "price", "priced_on", "uses_per_unit", "per", "reorder_at",
        ]  # fmt: skip
        help_texts = {
            "name": "Such as “Saw blades 2/0”.",
            "reorder_at": "May stay empty. At that number your first page says so.",
        }

    def __init__(self, *args: Any, acting: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.said = {name: getattr(self.instance, name) for name in FIGURES}
        self.was = self.instance.price if self.instance.pk else None
        self.currency = acting.school.currency
        if self.instance.pk is None:
            self.instance.school = acting.school
            del self.fields["why"]
        self.fields["price"].label = f"Price of one ({acting.school.currency})"
        for name, least in (("price", 2), ("uses_per_unit", 0), ("reorder_at", 0)):
            self.fields[name].widget = forms.TextInput(attrs={"inputmode": "decimal"})
            if (value := getattr(self.instance, name)) is not None:
                self.initial[name] = _short(value, least)

    def doubts(self) -> Sequence[Doubt]:
        """The price of one, and how long it lasts, against what they were."""
        price = self.cleaned_data["price"]
        said = f"{_short(price, 2)} {self.currency}"
        before = f"{_short(self.was or Decimal(0), 2)} {self.currency}"
        doubt = factor_doubt(
            "price", price, self.was, f"{said} for one; so far it was {before}, as is expected."
        )
        return [one for one in (doubt, self._lasting_doubt()) if one is not None]

    def _lasting_doubt(self) -> Doubt | None:
        uses, was = self.cleaned_data["uses_per_unit"], self.said["uses_per_unit"]
        if was is None or self.cleaned_data["per"] != self.said["per"]:
            return None  # of another measure nothing is known
        words = f"One lasts for {_short(uses, 0)}; so far it was {_short(was, 0)}."
        return factor_doubt("uses_per_unit", uses, was, words)

    def clean_name(self) -> str:
        return plain_line(self.cleaned_data["name"])

    def clean_unit(self) -> str:
        return plain_line(self.cleaned_data["unit"])

    def clean_priced_on(self) -> dt.date:
        day: dt.date = sensible_day(self.cleaned_data["priced_on"])
        return day

    def clean(self) -> dict[str, Any]:
        super().clean()
        data = self.cleaned_data
        for name, least, text in (
            ("price", 0, "A price cannot be negative."),
            ("reorder_at", 0, "There cannot be fewer than none."),
        ):
            if (value := data.get(name)) is not None and value < least:
                self.add_error(name, text)
        if "why" in self.fields:
            data["why"] = tidy(data.get("why") or "")
            if not data["why"] and any(data.get(name) != self.said[name] for name in FIGURES):
                self.add_error("why", "Say why: a changed figure has a reason.")
        if (uses := data.get("uses_per_unit")) is not None and uses <= 0:
            self.add_error("uses_per_unit", "One lasts for more than nothing.")
        return data


class SupplyStockForm(AskingForm, SentOnceForm):
    """Some came, or somebody counted."""

    what = forms.ChoiceField(
        label="What changed",
        choices=[("receive", "So many came"), ("count", "I counted: so many are there")],
        initial="receive",
        widget=forms.RadioSelect,
    )
    number = forms.DecimalField(
        label="How many",
        min_value=0,
        max_value=100_000,
        max_digits=9,
        decimal_places=2,
        widget=forms.TextInput(attrs={"inputmode": "decimal"}),
    )
    reason = forms.CharField(label="Why", max_length=160, help_text="Such as “bought a gross”.")

    def __init__(self, *args: Any, supply: Consumable, **kwargs: Any) -> None:
        kwargs.setdefault("auto_id", "id_stock_%s")  # the page has another form that asks
        super().__init__(*args, **kwargs)
        self.supply = supply
        if supply.on_hand is not None:
            self.fields[
                "number"
            ].help_text = f"By the records {floatformat(supply.on_hand, '-1')} are there."

    def doubts(self) -> Sequence[Doubt]:
        data = self.cleaned_data
        doubt = number_doubt("number", self.supply, data["what"], data["number"])
        return [doubt] if doubt else []

    def clean_reason(self) -> str:
        return plain_line(self.cleaned_data["reason"])
