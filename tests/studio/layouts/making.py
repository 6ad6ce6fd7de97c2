"""A student's project with a draft pattern, metal on the rack, and a layout begun."""

from __future__ import annotations

from typing import Any

from shapely.geometry import Polygon, box

from classroom.models import User
from studio.core.cutting import Placement
from studio.models import Layout, Pattern, Project
from studio.queries.layouts import layout_for
from studio.steps.layouts.begin import begin
from studio.steps.layouts.change import Move
from tests.people import Cast
from tests.studio.plans.making import SAIL, TAG, approved_project, brief, copper, stock


def drafted(
    cast: Cast, *outlines: Polygon, metal: Polygon | None = None, copies: int = 1, **of_brief: Any
) -> Project:
    """The owner's project with a draft without stops: a tag and a sail, on a sheet of 120 × 90."""
    copper_ = copper(cast)
    stock(copper_, "CU-1", metal or box(0, 0, 120, 90), cost="12.00")
    project = approved_project(
        brief(cast, copper_, **of_brief),
        cast.seat,
        copper_,
        *(outlines or (TAG, SAIL)),
        copies=copies,
    )
    project.patterns.update(state=Pattern.State.DRAFT)
    project.stage = Project.Stage.DRAWING
    project.save()
    return project


def begun(cast: Cast, *outlines: Polygon, **more: Any) -> Layout:
    """As the owner's page gets it."""
    made = begin(drafted(cast, *outlines, **more), acting=cast.owner)
    return fresh(made, cast.owner)


def fresh(layout: Layout, person: User) -> Layout:
    return layout_for(person, layout.pk)


def piece(layout: Layout, number: int = 0) -> str:
    return str(layout.job["pieces"][number]["id"])


def lay(layout: Layout, number: int, x: float, y: float, turn: float = 0.0, copy: int = 0) -> Move:
    """A move of the piece of that number to a spot on the first stock piece."""
    name = piece(layout, number)
    metal = layout.job["metal"][0]["id"]
    return Move(name, copy, Placement(name, copy, metal, False, turn, x, y))


def spots(layout: Layout) -> dict[str, tuple[float, float]]:
    """Where each piece lies, by its number."""
    return {p["piece"].rpartition("/")[2]: (p["x_mm"], p["y_mm"]) for p in layout.placements}
