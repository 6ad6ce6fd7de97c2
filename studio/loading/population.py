"""Fills an empty installation with a school that is at work: `python -m studio.loading.population`.

A process of its own, since the installation's database is not the caller's. Arguments: how many
students, and a folder for files; prints the `School` of wanted.py as JSON.
"""

from __future__ import annotations

import datetime as dt
import json
import sys
from decimal import Decimal
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

from .wanted import Deed, Person, School

if TYPE_CHECKING:
    from classroom import models as people
    from inventory.models import Metal
    from studio.models import Brief, CutPlan, Project

CLASS = 25
SHARE_DRAFTING, SHARE_READY = 0.08, 0.12
"""Of a class, so many still draw, and so many wait to be placed; the others are on plans."""
ON_A_PLAN = 10
UPLOADS = PRINTS = 12
PICTURE_PX = (7200, 5280)  # 38 million dots
PICTURE_FRAME_PX = 400
PRINTS_OF_A_CLASS = ("class_bag_labels", "class_safety_checklist", "class_preparation_checklist")


def main(students: int, folder: Path) -> School:
    """Needs Django set up and an empty, migrated database."""
    maker = _Maker(folder)
    for first in range(0, students, CLASS):
        maker.fill_class(first, min(CLASS, students - first))
    return maker.finished()


class _Maker:
    def __init__(self, folder: Path) -> None:
        from classroom.models import Role
        from classroom.models import School as OurSchool
        from classroom.safety.topics import seed_topics

        self.school = OurSchool.objects.create(name="Tidewater School", currency="USD")
        self.teachers = [
            self._person(f"teacher-{number}", Role.TEACHER, keeps_school=number == 0)
            for number in range(PRINTS)
        ]
        seed_topics(self.school)
        self.metal = self._metal()
        self.picture = _large_picture(folder)
        self.found = School([], [], [], [], [])

    def fill_class(self, first: int, size: int) -> None:
        """One course: some draw, some wait for a place, half of the others are at the bench."""
        from studio.models import Project

        course = self._course(first // CLASS)
        brief = self._brief(course)
        projects = [self._project(brief, first + place) for place in range(size)]
        drafting = max(1, round(size * SHARE_DRAFTING))
        ready = max(1, round(size * SHARE_READY)) if size > 1 else 0
        for project in projects[drafting:]:
            self._approve(project)
        placed = projects[drafting + ready :]
        plans: dict[int, CutPlan] = {}
        for start in range(0, len(placed), ON_A_PLAN):
            group = [Project.objects.get(pk=p.pk) for p in placed[start : start + ON_A_PLAN]]
            plan = self._plan(group, issued=start % (2 * ON_A_PLAN) == 0)
            plans |= {project.pk: plan for project in group}
        for project in projects:
            self._reader(project, plans.get(project.pk))
        self._deeds(course, projects[:drafting], projects[drafting : drafting + ready])

    def finished(self) -> School:
        del self.found.uploads[UPLOADS:], self.found.plans[1:]
        del self.found.prints[PRINTS:], self.found.views[PRINTS:]
        return self.found

    def _person(self, name: str, role: Any, **more: Any) -> people.User:
        from classroom.models import User

        return User.objects.create_user(
            name, display_name=name.title(), role=role, school=self.school, **more
        )

    def _metal(self) -> Metal:
        from inventory.buying import receiving
        from inventory.buying.sheet_line import SheetLine
        from inventory.models import Metal, MetalPrice

        today = dt.date.today()
        wide, high = Decimal("152.4"), Decimal("304.8")
        metal = Metal.objects.create(
            school=self.school, alloy_code="C11000", thickness_mm=Decimal("0.812")
        )
        MetalPrice.objects.create(
            metal=metal,
            amount=Decimal("30.00"),
            width_mm=wide,
            height_mm=high,
            dated=today,
            recorded_by=self.teachers[0],
            remark="invented",
        )
        receiving.receive_purchase(
            self.school,
            [SheetLine(metal, 60, wide, high, total=Decimal("1800.00"))],
            acting=self.teachers[0],
            bought_on=today,
            seller="Invented Metals",
            reference="1",
        )
        return metal

    def _course(self, number: int) -> people.Course:
        from classroom.models import Course
        from inventory.spending import ledger

        today = dt.date.today()
        course = Course.objects.create(
            school=self.school,
            title="Metals",
            section=str(number + 1),
            term="This term",
            starts_on=today - dt.timedelta(days=30),
            ends_on=today + dt.timedelta(days=90),
        )
        course.teachers.set(self.teachers)
        ledger.allot(
            ledger.open_budget(course),
            Decimal("900.00"),
            acting=self.teachers[0],
            reason="Metal money",
        )
        return course

    def _brief(self, course: people.Course) -> Brief:
        from studio.models import Brief

        brief = Brief.objects.create(
            course=course,
            title="Pendant",
            text="A pendant with at least one window.",
            max_width_mm=Decimal(80),
            max_height_mm=Decimal(80),
            allowance=Decimal("20.00"),
            created_by=self.teachers[0],
        )
        brief.metals.set([self.metal])
        return brief

    def _project(self, brief: Brief, number: int) -> Project:
        """A student with a pattern built from one of the house's examples."""
        from classroom.models import Role, Seat
        from studio.core.building import EXAMPLES, Draft
        from studio.steps.patterns.build import keep, opened, use
        from studio.steps.patterns.relabel import change_metal
        from studio.steps.patterns.start_project import start_project

        student = self._person(f"student-{number:03}", Role.STUDENT)
        seat = Seat.objects.create(course=brief.course, student=student)
        project = start_project(brief, seat, acting=student)
        recipe = EXAMPLES[number % len(EXAMPLES)].recipe
        draft, base = Draft().changed(recipe), opened(project).base
        now, _ = keep(project, draft, base=base)
        pattern = use(project, acting=student, base=now.base)
        change_metal(pattern, self.metal, 1, acting=student)
        return project

    def _approve(self, project: Project) -> None:
        from studio.steps.patterns.answer import approve_pattern
        from studio.steps.patterns.hand_in import hand_in

        pattern = project.patterns.get()
        hand_in(pattern, acting=project.student)
        pattern.refresh_from_db()
        approve_pattern(pattern, acting=self.teachers[0], place_now=False)

    def _plan(self, projects: list[Project], *, issued: bool) -> CutPlan:
        from studio.demo.placing import place_here
        from studio.steps.plans.approve import approve_plan
        from studio.steps.plans.issue import issue_plan

        plan = place_here(projects, acting=self.teachers[0])
        plan = approve_plan(plan, acting=self.teachers[0])
        if issued:
            issue_plan(plan, acting=self.teachers[0])
        plan.refresh_from_db()
        return plan

    def _reader(self, project: Project, plan: CutPlan | None) -> None:
        """The first page is read most; then the project, its pattern, plan and bench."""
        from django.urls import reverse

        pattern = project.patterns.get()
        pages = [
            reverse("first_page"),
            reverse("project", args=[project.pk]),
            reverse("pattern", args=[pattern.pk]),
        ]
        if plan is not None:
            pages += [reverse("first_page"), reverse("plan", args=[plan.pk])]
            if plan.state == plan.State.ISSUED:
                pages.append(reverse("bench", args=[project.pk]))
        self.found.people.append(Person(_cookie(project.student), pages))

    def _deeds(self, course: people.Course, drafting: list[Project], ready: list[Project]) -> None:
        from django.urls import reverse

        for project in drafting:
            self.found.uploads.append(
                Deed(
                    _cookie(project.student),
                    reverse("pattern_upload", args=[project.pk]),
                    {"metal": [str(self.metal.pk)], "copies": ["1"], "dpi": ["600"]},
                    str(self.picture),
                )
            )
        for _ in range(2):
            number = len(self.found.prints)
            name = PRINTS_OF_A_CLASS[number % len(PRINTS_OF_A_CLASS)]
            address = reverse(name, args=[course.pk])
            cookie = _cookie(self.teachers[number % len(self.teachers)])
            self.found.prints.append(Deed(cookie, f"{address}?as=pdf"))
            self.found.views.append(Deed(cookie, address))
        if ready:
            self.found.plans.append(
                Deed(
                    _cookie(self.teachers[-1]),
                    reverse("plan_new", args=[course.pk]),
                    {"projects": [str(project.pk) for project in ready]},
                )
            )


def _cookie(user: people.User) -> str:
    """A session as signing in makes one; the readers know no passphrase."""
    from django.conf import settings
    from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY

    session = import_module(settings.SESSION_ENGINE).SessionStore()
    session[SESSION_KEY] = str(user.pk)
    session[BACKEND_SESSION_KEY] = settings.AUTHENTICATION_BACKENDS[-1]
    session[HASH_SESSION_KEY] = user.get_session_auth_hash()
    session.create()
    return f"{settings.SESSION_COOKIE_NAME}={session.session_key}"


def _large_picture(folder: Path) -> Path:
    """A grey drawing of about a megabyte that is 38 million dots when it is opened."""
    import numpy as np
    from PIL import Image, ImageDraw

    wide, high = PICTURE_PX
    grain = np.random.default_rng(1).integers(-3, 4, (high // 8, wide // 8), dtype=np.int16)
    paper = Image.fromarray((246 + grain).astype("uint8")).resize(PICTURE_PX)
    pen = ImageDraw.Draw(paper)
    for place in range(4):
        inset = PICTURE_FRAME_PX + 500 * place
        pen.ellipse((inset, inset, wide - inset, high - inset), outline=20, width=14)
    path = folder / "large.jpg"
    paper.save(path, quality=60, dpi=(600, 600))
    return path


if __name__ == "__main__":
    import django
    from django.core.management import call_command

    django.setup()
    call_command("migrate", interactive=False, verbosity=0)
    json.dump(main(int(sys.argv[1]), Path(sys.argv[2])).to_json(), sys.stdout)
