"""Plans of an installation from before sheets were shared by rule come through its migrations."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.db import connections
from django.db.migrations.loader import MigrationLoader

BEFORE = (("inventory", "0005_rough_edges"), ("studio", "0010_layouts"))
AFTER = (
    ("inventory", "0006_rectangles"),
    ("inventory", "0007_rectangle_is_the_word"),
    ("studio", "0011_sharing"),
    ("studio", "0012_ways_of_older_plans"),
    ("studio", "0013_figures_of_ways"),
)
DAY = dt.date(2026, 11, 2)


class School:
    """A school as the version before had it, with two students and their projects."""

    def __init__(self, apps: Any, name: str) -> None:
        self.apps, self.name, self.plans = apps, name, 0
        school = self.make("classroom.School", name="Saltmarsh Harbour School")
        people = [
            self.make("classroom.User", username=who, display_name=who, school=school)
            for who in ("marit", "wren", "odd")
        ]
        self.teacher = people[0]
        self.course = self.make(
            "classroom.Course", school=school, title="Metals 1", starts_on=DAY, ends_on=DAY
        )
        self.metal = self.make(
            "inventory.Metal", school=school, alloy_code="C11000", thickness_mm="0.812"
        )
        self.seats = [
            self.make("classroom.Seat", course=self.course, student=one) for one in people[1:]
        ]
        self.make("inventory.Budget", course=self.course, cost_policy="blank")

    def make(self, model: str, **fields: Any) -> Any:
        return self.apps.get_model(*model.split(".")).objects.using(self.name).create(**fields)

    def plan(self, state: str, *groups_on: tuple[int, str]) -> int:
        """A plan with a piece for each (seat, stock piece); its pk."""
        job: dict[str, Any] = {"version": 1.2, "pieces": []}
        answer: dict[str, Any] = {"placements": [], "unplaced": []}
        brief = self.make(
            "studio.Brief", course=self.course, title="Tag", allowance=9, created_by=self.teacher
        )
        plan = self.make(
            "studio.CutPlan", course=self.course, metal=self.metal, state=state, job=job,
            created_by=self.teacher,
        )  # fmt: skip
        for seat, code in groups_on:
            project = self.make(
                "studio.Project", brief=brief, seat=self.seats[seat], metal=self.metal
            )
            pattern = self.make(
                "studio.Pattern", project=project, number=1, state="approved", sha256="0",
                file_name="tag.svg", tracing={}, drawing_json=[],
            )  # fmt: skip
            live = state not in ("closed", "dropped")
            self.make("studio.PlanProject", plan=plan, project=project, pattern=pattern, live=live)
            job["pieces"].append({"id": f"{pattern.pk}/1", "group": f"project-{project.pk}"})
            answer["placements"].append({"piece": f"{pattern.pk}/1", "metal": code})
        plan.job, plan.answer = job, None if state == "placing" else answer
        plan.save(using=self.name)
        return int(plan.pk)


def test_what_is_decided_is_passed_on_and_what_is_not_is_laid_anew(apart: str) -> None:
    connection = connections[apart]
    loader = MigrationLoader(connection)
    state = loader.project_state(list(BEFORE))
    with connection.schema_editor() as editor:
        for model in state.apps.get_models():
            editor.create_model(model)
    school = School(state.apps, apart)
    shared, apart_ = ((0, "CU-1"), (1, "CU-1")), ((0, "CU-1"), (1, "CU-2"))
    expected = {
        school.plan("proposed", *shared): "",
        school.plan("placing", *shared): "",
        school.plan("proposed", (0, "CU-1")): "alone",
        school.plan("approved", *shared): "passed",
        school.plan("issued", *shared): "passed",
        school.plan("closed", *shared): "passed",
        school.plan("issued", *apart_): "alone",
        school.plan("dropped", *shared): "alone",
    }
    with connection.schema_editor() as editor:
        for one in AFTER:
            state = loader.get_migration(*one).apply(state, editor)
    plans = state.apps.get_model("studio", "CutPlan").objects.using(apart)
    assert dict(plans.values_list("pk", "way")) == expected
    for model in ("MetalHolder", "StockStep"):  # nobody is named, no step is added
        assert not state.apps.get_model("studio", model).objects.using(apart).exists()
    budget = state.apps.get_model("inventory", "Budget").objects.using(apart).get()
    assert budget.cost_policy == "rectangle"
