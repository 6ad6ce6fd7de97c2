"""Receiving a purchase: a head and several lines in one form."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Decimal
from typing import Any, Final

from django import forms
from django.forms import BaseFormSet, formset_factory
from shapely.geometry import box

from classroom.figures.units import format_mass
from classroom.forms.lengths import LengthField
from classroom.models import User
from classroom.wording.typed_lines import tidy
from inventory.buying.prices import last_per_mm2
from inventory.buying.sheet_line import MOST_LINES, MOST_SHEETS, SheetLine
from inventory.metals import GRAM_PER_UNIT
from inventory.models import Metal, MetalOrderLine
from inventory.plausible import Doubt, caliper_doubt, extras_doubt, price_doubt, weight_doubt
from inventory.rack.edges import edges_of
from inventory.rack.outlines import LEAST_WIDTH_MM, MOST_WIDTH_MM
from inventory.rack.picturing import edge_picture
from inventory.rack.weighing import WeightCheck, check_weight
from inventory.spending.money import CENT, MOST_AT_ONCE

from .asking import AskingForm
from .edges import ANY_SHEET, SIDES, Ticks, clean_edges_field, sides_of, ticks_on
from .fields import MoneyField, SentOnceForm, WeightField, day_field, sensible_day, use_school

PRICES_OF: Final = [
    ("each", "one sheet"),
    ("line", "all sheets of this line"),
    ("kg", "a kilogram"),
    ("g", "a gram"),
    ("lb", "a pound"),
    ("oz", "an ounce"),
    ("ozt", "a troy ounce"),
    ("cm2", "a square centimetre"),
    ("m2", "a square metre"),
    ("in2", "a square inch"),
    ("ft2", "a square foot"),
]
MM2_PER_UNIT: Final = {
    "cm2": Decimal(100),
    "m2": Decimal(1_000_000),
    "in2": Decimal("645.16"),
    "ft2": Decimal("92903.04"),
}
"""The inch is 25.4 mm exactly."""


class PurchaseForm(AskingForm, SentOnceForm):
    bought_on = day_field("Bought on")
    seller = forms.CharField(label="Bought from", max_length=120, required=False)
    reference = forms.CharField(label="Receipt or order number", max_length=60, required=False)
    freight = MoneyField(label="Freight", required=False)
    tax = MoneyField(label="Tax on the whole", required=False)
    keep_prices = forms.BooleanField(
        label="Write these prices down as the metals' prices of that day",
        required=False,
        initial=True,
    )

    def __init__(
        self, *args: Any, acting: User, lines: LineFormSetBase | None = None, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.lines, self.currency = lines, acting.school.currency
        use_school(self, acting.school)

    def doubts(self) -> Sequence[Doubt]:
        """Freight and tax against the lines, once all of these can be read."""
        price = self.lines.price() if self.lines is not None else None
        data = self.cleaned_data
        doubt = extras_doubt(data["freight"], data["tax"], price, currency=self.currency)
        return [doubt] if doubt else []

    def clean_freight(self) -> Decimal:
        return self.cleaned_data["freight"] or Decimal(0)

    def clean_tax(self) -> Decimal:
        return self.cleaned_data["tax"] or Decimal(0)

    def clean_bought_on(self) -> dt.date:
        day: dt.date = sensible_day(self.cleaned_data["bought_on"])
        return day

    def clean_seller(self) -> str:
        return tidy(self.cleaned_data["seller"])

    def clean_reference(self) -> str:
        return tidy(self.cleaned_data["reference"])


class LineForm(AskingForm):
    metal = forms.ModelChoiceField(queryset=Metal.objects.none(), empty_label="Choose …")
    count = forms.IntegerField(label="Sheets", min_value=1, max_value=MOST_SHEETS, initial=1)
    width = LengthField(least_mm=LEAST_WIDTH_MM, most_mm=MOST_WIDTH_MM)
    height = LengthField(least_mm=LEAST_WIDTH_MM, most_mm=MOST_WIDTH_MM)
    price = MoneyField()
    price_of = forms.ChoiceField(label="Price of", choices=PRICES_OF, initial="each")
    weight = WeightField(
        label="Weight of all these sheets",
        required=False,
        help_text="Needed for a price by weight; else it only checks the thickness.",
    )
    measured = LengthField(
        label="Caliper reading",
        least_mm=0.05,
        most_mm=10,
        required=False,
        help_text="Thickness of the sheet as measured. Gauges disagree; a caliper does not.",
    )
    place = forms.CharField(label="Where it lies", max_length=60, required=False)
    edges_clean = clean_edges_field(initial=SIDES)
    order_line = forms.ModelChoiceField(
        queryset=MetalOrderLine.objects.none(), required=False, widget=forms.HiddenInput
    )

    def __init__(self, *args: Any, acting: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field, ordered = self.fields["metal"], self.fields["order_line"]
        assert isinstance(field, forms.ModelChoiceField)
        assert isinstance(ordered, forms.ModelChoiceField)
        field.queryset = Metal.objects.filter(school=acting.school, retired_at=None)
        ordered.queryset = MetalOrderLine.objects.filter(order__school=acting.school)
        use_school(self, acting.school)
        self.school = acting.school
        self._say_what_is_expected()
        unit = self.fields["width"].units.typed  # type: ignore[attr-defined]
        self.fields["width"].label = f"Width ({unit})"
        self.fields["height"].label = f"Height ({unit})"
        sides = self.fields["edges_clean"]
        assert isinstance(sides, forms.MultipleChoiceField)
        names = sides_of(self._length_now("width"), self._length_now("height"), acting.school.units)
        sides.choices = list(zip(SIDES, names, strict=True))

    def _length_now(self, name: str) -> Decimal | None:
        """What stands in a box of a length, as far as it can be read."""
        field = self.fields[name]
        value = self[name].value()
        try:
            length: Decimal | None = field.clean(field.prepare_value(value))
        except forms.ValidationError:
            return None
        return length

    @property
    def ticks(self) -> Ticks:
        """The sides of each sheet of the line, on a picture of its size where that is known."""
        width, height = self._length_now("width"), self._length_now("height")
        sheet = box(0, 0, float(width), float(height)) if width and height else ANY_SHEET
        return ticks_on(self["edges_clean"], edge_picture(sheet, edges_of(sheet)))

    @property
    def all_clean(self) -> bool:
        return set(self["edges_clean"].value() or ()) == set(SIDES)

    def _say_what_is_expected(self) -> None:
        """Beside the fields of a line that was ordered: what it should weigh and cost."""
        known: list[Any] = [
            self.initial.get(name) for name in ("metal", "width", "height", "count")
        ]
        metals: Any = self.fields["metal"]
        if not all(isinstance(one, int | Decimal) for one in known):
            return
        pk, width, height, count = known
        metal = metals.queryset.filter(pk=pk).first()
        if metal is None:
            return
        likely = format_mass(metal.mass_g(width * height * count), self.school.units)
        self.fields["weight"].help_text = f"By size and thickness about {likely} is expected."
        if (last := last_per_mm2(metal)) is not None:
            price = f"{last * width * height:,.2f} {self.school.currency}"
            self.fields["price"].help_text = f"By the last price about {price} for one sheet."

    def has_changed(self) -> bool:
        # An ordered line whose price stays empty has not come.
        typed = {name: self.data.get(self.add_prefix(name), "") for name in ("order_line", "price")}
        if typed["order_line"] and not str(typed["price"]).strip():
            return False
        # Sheets and "price of" carry a value from the start; a line is filled by the others.
        filled = {"metal", "width", "height", "price", "weight", "measured", "place"}
        return bool(filled & set(self.changed_data))

    def clean_place(self) -> str:
        return tidy(self.cleaned_data["place"])

    def clean(self) -> dict[str, Any]:
        super().clean()
        data = self.cleaned_data
        if data.get("price_of") in GRAM_PER_UNIT and not data.get("weight"):
            self.add_error("weight", "A price by weight needs the weight of the sheets.")
        if not self.errors and self.total() > MOST_AT_ONCE:
            self.add_error("price", f"That is more than {MOST_AT_ONCE:,.0f} for one line.")
        return data

    def total(self) -> Decimal:
        """The price of the whole line in whole cents. Only with clean data."""
        data = self.cleaned_data
        basis, price, count = data["price_of"], Decimal(data["price"]), int(data["count"])
        if basis in GRAM_PER_UNIT:
            units = data["weight"] / GRAM_PER_UNIT[basis]
        elif basis in MM2_PER_UNIT:
            units = data["width"] * data["height"] * count / MM2_PER_UNIT[basis]
        else:
            units = Decimal(count if basis == "each" else 1)
        return Decimal(price * units).quantize(CENT, ROUND_HALF_UP)

    def line(self) -> SheetLine:
        """What was typed, as the rack takes it. Only after `is_valid`."""
        data = self.cleaned_data
        return SheetLine(
            metal=data["metal"],
            count=data["count"],
            width_mm=data["width"],
            height_mm=data["height"],
            total=self.total(),
            measured_mm=data["measured"],
            place=data["place"],
            rough_sides=frozenset(SIDES) - set(data["edges_clean"]),
            weight_g=data["weight"],
            order_line=data["order_line"],
        )

    def doubts(self) -> Sequence[Doubt]:
        """Weight, price and caliper reading, each against what is known of the metal."""
        data = self.cleaned_data
        metal, check = data["metal"], self.weight_check()
        one = data["width"] * data["height"]
        found = [
            price_doubt(
                "price",
                self.total() / (one * data["count"]),
                last_per_mm2(metal),
                area_mm2=one,
                currency=self.school.currency,
            )
        ]
        if check is not None:
            units = self.school.units
            found.append(weight_doubt("weight", data["weight"], check.expected_g, units))
        if data["measured"]:
            found.append(
                caliper_doubt("measured", data["measured"], metal.thickness_mm, self.school.units)
            )
        return [doubt for doubt in found if doubt is not None]

    def weight_check(self) -> WeightCheck | None:
        """The sheets' weight against their size, where it was typed."""
        data = self.cleaned_data
        if not data["weight"]:
            return None
        return check_weight(
            data["weight"],
            area_mm2=data["width"] * data["height"] * data["count"],
            thickness_mm=data["measured"] or data["metal"].thickness_mm,
            alloy_code=data["metal"].alloy_code,
        )


class LineFormSetBase(BaseFormSet[LineForm]):
    def clean(self) -> None:
        if not any(self.errors) and not self.filled():
            raise forms.ValidationError("Fill in at least one line.")

    def price(self) -> Decimal | None:
        """The seller's price of all lines; None as long as one of them cannot be read."""
        filled = self.filled()
        if not all(form.is_valid() or form.asked for form in filled):
            return None
        return sum((form.total() for form in filled), Decimal(0))

    def filled(self) -> list[LineForm]:
        """The lines in which something was typed."""
        return [form for form in self.forms if form.has_changed()]


LineFormSet = formset_factory(
    LineForm,
    formset=LineFormSetBase,
    extra=1,
    max_num=MOST_LINES,
    validate_max=True,
    absolute_max=MOST_LINES,
)
