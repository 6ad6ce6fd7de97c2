"""Patterns built from shapes, as the builder's page builds them."""

from __future__ import annotations

from typing import Any

from studio.models import Pattern, Project
from studio.steps.patterns.build import Opened, keep, opened, use
from tests.core.building.recipes import recipe

DISC = {"kind": "circle", "diameter": 30}
HOLE = {"kind": "hole"}


def shape(project: Project, *steps: dict[str, Any]) -> Opened:
    """As the page does it: the builder's newest shapes, changed and kept."""
    now = opened(project)
    draft = now.draft.changed(recipe(*steps))
    return keep(project, draft, base=now.base)[0]


def build(project: Project, *steps: dict[str, Any]) -> Pattern:
    """The same, and the drawing taken as the pattern."""
    return use(project, acting=project.student, base=shape(project, *steps).base)
