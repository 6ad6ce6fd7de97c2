"""What the search "does this pattern fit?" asks: a pattern or a rectangle, and a metal."""

from __future__ import annotations

from typing import Any

from django import forms
from shapely.geometry import Polygon, box

from classroom.forms.lengths import LengthField, use_units
from classroom.models import User
from inventory.models import Metal
from studio.models import Brief, Pattern, Project
from studio.queries.patterns import patterns_for

NEWEST = 200
"""Patterns that the list offers."""


class PatternChoice(forms.ModelChoiceField[Pattern]):
    def label_from_instance(self, obj: Pattern) -> str:
        project: Project = obj.project
        return f"{project.seat.student}: {project.title or project.brief.title}"


class FitForm(forms.Form):
    pattern = PatternChoice(
        queryset=Pattern.objects.none(), required=False, empty_label="A rectangle"
    )
    width = LengthField(required=False, least_mm=1, most_mm=3000)
    height = LengthField(required=False, least_mm=1, most_mm=3000)
    metal = forms.ModelChoiceField(
        queryset=Metal.objects.none(), required=False, empty_label="The pattern's own"
    )

    def __init__(self, *args: Any, acting: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        pattern, metal = self.fields["pattern"], self.fields["metal"]
        assert isinstance(pattern, forms.ModelChoiceField)
        assert isinstance(metal, forms.ModelChoiceField)
        current = (
            patterns_for(acting)
            .current()
            .exclude(project__stage=Project.Stage.CLOSED)
            .defer("tracing", "findings_json")
            .order_by("-pk")
        )
        # A choice beyond the newest stays valid, so that a project's own page can lead here.
        pattern.queryset = current
        pattern.choices = [
            ("", pattern.empty_label),
            *(
                (one.pk, pattern.label_from_instance(one))
                for one in current.defer("drawing_json")[:NEWEST]
            ),
        ]
        metal.queryset = Metal.objects.filter(school=acting.school)
        use_units(self, acting.school)

    def clean(self) -> dict[str, Any]:
        super().clean()
        data = self.cleaned_data
        if self.errors:
            return data
        pattern, sides = data.get("pattern"), (data.get("width"), data.get("height"))
        if pattern and any(sides):
            self.add_error("width", "Choose a pattern or give a rectangle, not both.")
        elif not pattern and not all(sides):
            missing = "height" if sides[0] else "width"
            self.add_error(missing, "Choose a pattern, or give width and height.")
        elif not data.get("metal") and not (pattern and pattern.project.metal_id):
            self.add_error("metal", "Choose the metal.")
        elif pattern and not pattern.drawing.pieces:
            self.add_error("pattern", "No piece has been read out of this pattern.")
        return data

    @property
    def wanted(self) -> list[tuple[Polygon, int]]:
        """The outlines and how often each is wanted. Only after `is_valid`."""
        data = self.cleaned_data
        if pattern := data["pattern"]:
            return [(piece.outline, pattern.copies) for piece in pattern.drawing.pieces]
        return [(box(0, 0, float(data["width"]), float(data["height"])), 1)]

    @property
    def of_metal(self) -> Metal:
        chosen: Metal = self.cleaned_data["metal"] or self.cleaned_data["pattern"].project.metal
        return chosen

    @property
    def brief(self) -> Brief | None:
        """The pattern's brief, which says how far apart pieces lie; a rectangle has none."""
        pattern: Pattern | None = self.cleaned_data["pattern"]
        return pattern.project.brief if pattern else None
