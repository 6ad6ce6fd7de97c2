"""How far papers reach beyond their lines is what the school says, on every paper and picture."""

from __future__ import annotations

import pytest
from shapely.geometry import box

from studio.models import CutPlan, Pattern, PlacingSettings, Project
from studio.prints.patterns.pattern_sheet import pattern_sheet_context
from studio.prints.plans.placement_sheet import placement_sheet_context
from studio.views.bench.shown import where
from tests.studio.bench.making import World

TAG = box(0, 0, 40, 20)


def widths(world: World, project: Project, plan: CutPlan) -> list[float]:
    """Of the tag's paper on the pattern sheet, on the placement sheet and as it is rubbed."""
    school = world.cast.school
    pattern = Pattern.objects.select_related("project__brief__course__school").get(project=project)
    (cutout,) = pattern_sheet_context(pattern, school=school)["cutouts"]
    (sheet,) = placement_sheet_context(plan, school=school)["sheets"]
    (picture,) = where(project)
    return [
        cutout.rim.bounds[2] - cutout.rim.bounds[0],
        sheet.one.papers[0].outline.bounds[2] - sheet.one.papers[0].outline.bounds[0],
        picture.areas[0].width_mm,
    ]


def test_another_rim_is_another_edge_on_every_paper(world: World) -> None:
    project = world.project(world.cast.seat, TAG)
    plan = world.issued(project, places=[(10.0, 10.0)])
    assert widths(world, project, plan) == pytest.approx([43.0] * 3, abs=0.05)
    PlacingSettings.objects.create(school=world.cast.school, rim_mm="2")
    assert widths(world, project, plan) == pytest.approx([44.0] * 3, abs=0.05)
    PlacingSettings.objects.create(school=world.cast.school, course=world.cast.course, rim_mm="1")
    assert widths(world, project, plan) == pytest.approx([42.0] * 3, abs=0.05)


def test_a_pattern_that_lies_nowhere_yet_has_the_schools_rim(world: World) -> None:
    project = world.project(world.cast.seat, TAG)
    PlacingSettings.objects.create(school=world.cast.school, rim_mm="2")
    pattern = Pattern.objects.select_related("project__brief__course__school").get(project=project)
    (cutout,) = pattern_sheet_context(pattern, school=world.cast.school)["cutouts"]
    assert cutout.rim.bounds == pytest.approx((-2, -2, 42, 22), abs=0.05)
