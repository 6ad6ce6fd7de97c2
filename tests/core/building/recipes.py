"""Recipes in short, and what comes of them by the way that every file takes."""

from __future__ import annotations

from typing import Any

from studio.core.building import Built, Recipe, build
from studio.core.drawing import Drawing, Finding, Limits
from studio.core.reading import assemble, read_pattern
from studio.core.writing import written

LIMITS = Limits(max_width_mm=60, max_height_mm=60)
"""A studio's usual ones."""


def recipe(*steps: dict[str, Any]) -> Recipe:
    numbered = [{"id": str(place), **step} for place, step in enumerate(steps, start=1)]
    return Recipe.from_json({"version": 1, "steps": numbered})


def built(*steps: dict[str, Any]) -> Built:
    return build(recipe(*steps), LIMITS)


def read(*steps: dict[str, Any]) -> Drawing:
    """The drawing as it is read back out of the written file."""
    return read_back(built(*steps))[0]


def read_back(of: Built) -> tuple[Drawing, tuple[Finding, ...]]:
    tracing = read_pattern(written(of.sheet, "svg"), filename="shapes.svg")
    assembly = assemble(tracing)
    return assembly.drawing, (*tracing.findings, *assembly.findings)
