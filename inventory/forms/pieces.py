"""Forms about single stock pieces: an offcut typed in, where it lies, corrections, scrapping."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django import forms
from shapely.geometry import Polygon

from classroom.figures.units import format_mass, format_thickness
from classroom.forms.lengths import LengthField
from classroom.models import School, User
from classroom.refusals import Refused
from classroom.wording.typed_lines import plain_line, tidy
from inventory.buying.prices import last_per_mm2
from inventory.models import Metal, StockPiece
from inventory.plausible import Doubt, caliper_doubt, price_doubt, size_doubt, weight_doubt
from inventory.rack.outlines import LEAST_WIDTH_MM, MOST_WIDTH_MM, polygon_from_points, rectangle
from inventory.rack.stock import room_in_parent_mm2

from .asking import AskingForm
from .fields import MoneyField, PointsField, SentOnceForm, WeightField, use_school


def _reason(initial: str = "") -> forms.CharField:
    return forms.CharField(label="Why", max_length=160, initial=initial)


class OutlineForm(forms.Form):
    """A shape as width and height, or as corners; `cleaned_data["outline"]` is the polygon."""

    width = LengthField(
        least_mm=LEAST_WIDTH_MM,
        most_mm=MOST_WIDTH_MM,
        required=False,
        help_text="Such as 120 mm, 12 cm or 4 3/4 in.",
    )
    height = LengthField(least_mm=LEAST_WIDTH_MM, most_mm=MOST_WIDTH_MM, required=False)
    points = PointsField(
        label="Or its corners, one on each line",
        required=False,
        help_text="x, y in walking order round the edge, for example 0, 0 then 120, 0 then 80, 45.",
    )
    outline_needed = True

    def clean(self) -> dict[str, Any]:
        super().clean()
        data = self.cleaned_data
        if self.errors.keys() & {"width", "height", "points"}:
            return data
        sides, points = (data.get("width"), data.get("height")), data.get("points")
        data["outline"] = None
        if points and any(sides):
            self.add_error("points", "Give either width and height, or corners, not both.")
        elif points:
            self._shape("points", polygon_from_points, points)
        elif all(sides):
            self._shape("width", rectangle, *sides)
        elif any(sides) or self.outline_needed:
            field = "height" if sides[0] else "width"
            self.add_error(field, "Give width and height, or the corners below.")
        return data

    def _shape(self, field: str, make: Any, *values: Any) -> None:
        try:
            outline: Polygon = make(*values)
        except Refused as refusal:
            self.add_error(field, str(refusal))
        else:
            self.cleaned_data["outline"] = outline


class OffcutFacts(AskingForm, SentOnceForm):
    """What is asked about an offcut besides its outline; the SVG upload asks the same."""

    metal = forms.ModelChoiceField(queryset=Metal.objects.none(), empty_label="Choose …")
    cost = MoneyField(
        label="What it is worth", initial="0.00", help_text="Metal that was a gift may cost 0."
    )
    measured = LengthField(
        label="Caliper reading",
        least_mm=0.05,
        most_mm=10,
        required=False,
        help_text="Its thickness.",
    )
    clean_edges = forms.BooleanField(
        label="Its straight edges are clean",
        required=False,
        help_text="A pattern may then lie on them without sawing. Where only some are, say which "
        "on the piece's own page.",
    )
    place = forms.CharField(label="Where it lies", max_length=60, required=False)
    reason = _reason("found and measured")

    def __init__(self, *args: Any, acting: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["metal"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = Metal.objects.filter(school=acting.school, retired_at=None)
        self.school = acting.school
        use_school(self, acting.school)

    def doubts(self) -> Sequence[Doubt]:
        """The caliper reading; and the worth, where it is more than twice that of new metal."""
        data = self.cleaned_data
        metal, outline = data["metal"], data.get("outline")
        found = caliper_doubts(data["measured"], metal, self.school)
        last = last_per_mm2(metal)
        if outline is not None and last is not None:
            area = Decimal(repr(outline.area))
            worth = price_doubt(
                "cost", data["cost"] / area, last, area_mm2=area, currency=self.school.currency
            )
            # An offcut may be worth less than new metal, or nothing.
            found += [worth] if worth and data["cost"] > last * area else []
        return found

    def clean_place(self) -> str:
        return tidy(self.cleaned_data["place"])

    def clean_reason(self) -> str:
        return plain_line(self.cleaned_data["reason"])


class OffcutForm(OffcutFacts, OutlineForm):
    field_order = ["metal", "width", "height", "points", "cost", "measured", "clean_edges"]


class MoveForm(forms.Form):
    place = forms.CharField(label="Where it lies", max_length=60, required=False)

    def clean_place(self) -> str:
        return tidy(self.cleaned_data["place"])


def caliper_doubts(measured: Decimal | None, metal: Metal, school: School) -> list[Doubt]:
    """The question about a caliper reading, where there is one."""
    if measured is None:
        return []
    doubt = caliper_doubt("measured", measured, metal.thickness_mm, school.units)
    return [doubt] if doubt else []


class CorrectForm(AskingForm, OutlineForm):
    """Corrections of a piece's record; size and cost only while it lies free on the rack."""

    outline_needed = False
    measured = LengthField(
        label="Caliper reading",
        least_mm=0.05,
        most_mm=10,
        required=False,
        help_text="Its thickness.",
    )
    cost = MoneyField()
    reason = _reason()
    field_order = ["measured", "cost", "width", "height", "points", "reason"]

    def __init__(self, *args: Any, piece: StockPiece, acting: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        use_school(self, acting.school)
        self.piece, self.school = piece, acting.school
        listed = format_thickness(piece.metal.thickness_mm, acting.school.units)
        self.fields["measured"].help_text = f"Its thickness. The metal is listed as {listed}."
        self.fields["measured"].initial = piece.measured_mm
        self.fields["cost"].initial = piece.cost
        self.fields["width"].label = "New width, if the size was wrong"
        self.fields["height"].label = "New height"
        self.fields["points"].label = "Or its true corners, one on each line"
        if piece.state != StockPiece.State.RACK:
            for name in ("cost", "width", "height", "points"):
                del self.fields[name]

    def clean_reason(self) -> str:
        return plain_line(self.cleaned_data["reason"])

    def doubts(self) -> Sequence[Doubt]:
        """What changes: the caliper reading, the size and the cost."""
        data, piece = self.cleaned_data, self.piece
        found: list[Doubt | None] = []
        if data["measured"] != piece.measured_mm:
            found += caliper_doubts(data["measured"], piece.metal, self.school)
        outline, area = data.get("outline"), piece.area_mm2
        if outline is not None:
            area = Decimal(repr(outline.area))
            bought = piece.purchase_line
            found.append(
                size_doubt(
                    "points" if data.get("points") else "width",
                    outline.area,
                    was_mm2=float(piece.area_mm2),
                    bought_mm2=float(bought.width_mm * bought.height_mm) if bought else None,
                    left_mm2=room_in_parent_mm2(piece),
                    units=self.school.units,
                )
            )
        found.append(self._cost_doubt(area))
        return [doubt for doubt in found if doubt is not None]

    def _cost_doubt(self, area_mm2: Decimal) -> Doubt | None:
        cost, piece = self.cleaned_data.get("cost"), self.piece
        last = last_per_mm2(piece.metal)
        if cost is None or cost == piece.cost or last is None:
            return None
        if piece.kind != StockPiece.Kind.SHEET and cost <= last * area_mm2:
            return None  # what was cut before may be worth less than new metal, or nothing
        return price_doubt(
            "cost", cost / area_mm2, last, area_mm2=area_mm2, currency=self.school.currency
        )


class ScrapPieceForm(AskingForm):
    weight = WeightField(
        label="Weight on the scale", required=False, help_text="Left empty: weight by its size."
    )
    reason = _reason()

    def __init__(self, *args: Any, piece: StockPiece, acting: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.piece, self.units = piece, acting.school.units
        likely = format_mass(piece.mass_g, self.units)
        self.fields["weight"].help_text = f"Left empty: {likely} by its size."
        use_school(self, acting.school)

    def doubts(self) -> Sequence[Doubt]:
        weight = self.cleaned_data["weight"]
        if weight is None:
            return ()
        doubt = weight_doubt("weight", weight, self.piece.mass_g, self.units, at_most=True)
        return [doubt] if doubt else []

    def clean_reason(self) -> str:
        return plain_line(self.cleaned_data["reason"])


class StrikeOffForm(forms.Form):
    why_off = _reason()

    def clean_why_off(self) -> str:
        return plain_line(self.cleaned_data["why_off"])
