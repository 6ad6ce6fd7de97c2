"""Whoever works on a project finds its papers on its page."""

from __future__ import annotations

from django.urls import reverse

from tests.people import signed_in
from tests.studio.bench.making import World


def test_every_paper_of_a_project_is_one_press_away(world: World) -> None:
    project = world.at_bench()
    text = signed_in(world.cast.owner).get(reverse("project", args=[project.pk])).content.decode()
    plan = project.plan_shares.get().plan_id
    for name, pk in (
        ("pattern_sheet", project.patterns.get().pk),
        ("cut_plan_print", plan),
        ("placement_sheet", plan),
        ("preparation_checklist", project.pk),
        ("safety_checklist", project.pk),
    ):
        assert reverse(name, args=[pk]) in text


def test_before_the_first_pattern_there_is_the_safety_list_to_print(world: World) -> None:
    project = world.project(world.cast.seat)
    project.patterns.all().delete()
    text = signed_in(world.cast.owner).get(reverse("project", args=[project.pk])).content.decode()
    assert reverse("safety_checklist", args=[project.pk]) in text
    assert "Pattern at 1:1" not in text
