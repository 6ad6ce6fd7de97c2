"""Which edges of a piece of metal are clean: ticked on its picture."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final

from django import forms
from django.utils.text import capfirst
from shapely.geometry import box

from classroom.figures.units import format_length
from classroom.models import User
from classroom.wording.typed_lines import plain_line
from inventory.models import StockPiece
from inventory.rack.edges import Edges, clean_keys, edges_from, edges_of, sawn_as_one, with_clean
from inventory.rack.picturing import EdgePicture, edge_picture

SIDES: Final = ("bottom edge", "right edge", "top edge", "left edge")
ALONG: Final = ("width", "height", "width", "height")
"""As long as which measure each side is."""
ANY_SHEET: Final = box(0, 0, 50, 50)
"""For a picture of the sides of a sheet whose size is not known yet."""


def sides_of(width_mm: Decimal | None, height_mm: Decimal | None, units: str) -> list[str]:
    """What each side is called, with its length as far as it is known."""
    known = {"width": width_mm, "height": height_mm}
    return [
        f"{number}: {capfirst(side)}, "
        + (f"along the {along}" if (mm := known[along]) is None else format_length(mm, units))
        for number, (side, along) in enumerate(zip(SIDES, ALONG, strict=True), start=1)
    ]


@dataclass(frozen=True, slots=True)
class Tick:
    """One edge on the picture: its box, and where it lies."""

    box: forms.boundfield.BoundWidget
    path: str
    nearest: str  # the part of the picture in which this edge is meant
    label: str


@dataclass(frozen=True, slots=True)
class Ticks:
    """A picture whose edges can be ticked."""

    picture: EdgePicture
    ticks: Sequence[Tick]


def ticks_on(field: forms.BoundField, picture: EdgePicture) -> Ticks:
    """The boxes of a field of many choices, each with its edge in the picture, in that order."""
    return Ticks(
        picture,
        [
            Tick(one, path, nearest, str(one.choice_label))
            for one, path, nearest in zip(field, picture.paths, picture.nearest, strict=True)
        ],
    )


def clean_edges_field(**options: Any) -> forms.MultipleChoiceField:
    return forms.MultipleChoiceField(
        label="Clean edges",
        widget=forms.CheckboxSelectMultiple,
        required=False,
        **options,
    )


class EdgesForm(forms.Form):
    """The edges of one stock piece. `edges` is what was ticked, once the form is valid.

    Everything that was sawn is one edge, unless `each` asks for every single one.
    """

    edges_clean = clean_edges_field()
    outline = forms.CharField(widget=forms.HiddenInput, max_length=16)
    reason = forms.CharField(label="Why", max_length=160, initial="looked at")

    def __init__(
        self, *args: Any, piece: StockPiece, acting: User, each: bool = False, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.now = edges_from(piece.clean_edges, piece.rough_edges)
        all_edges = edges_of(piece.polygon)
        together = sawn_as_one(piece.polygon, all_edges, clean_keys(all_edges, self.now))
        self.found = all_edges if each else together
        self.may_be_each = not each and len(together) < len(all_edges)
        self.picture = edge_picture(piece.polygon, self.found)
        self.seen = hashlib.sha256(piece.outline.encode()).hexdigest()[:16]
        self.shown = clean_keys(self.found, self.now)
        units = acting.school.units
        field = self.fields["edges_clean"]
        assert isinstance(field, forms.MultipleChoiceField)
        field.choices = [
            (
                edge.key,
                f"{number}: {capfirst(edge.name)}, {format_length(edge.length_mm, units)}",
            )
            for number, edge in enumerate(self.found, start=1)
        ]
        field.initial = sorted(self.shown)
        self.fields["outline"].initial = self.seen

    def clean_outline(self) -> str:
        seen: str = self.cleaned_data["outline"]
        if seen != self.seen:
            raise forms.ValidationError(
                "The outline of this piece has been corrected meanwhile. Load the page again."
            )
        return seen

    def clean_reason(self) -> str:
        return plain_line(self.cleaned_data["reason"])

    @property
    def ticks(self) -> Ticks:
        return ticks_on(self["edges_clean"], self.picture)

    @property
    def edges(self) -> Edges:
        """As ticked; as they were where no tick was changed, stretches within an edge too."""
        keys = set(self.cleaned_data["edges_clean"])
        return self.now if keys == self.shown else with_clean(self.found, keys)
