"""A school with a class that waits for its cut plans, for the installations of these tests.

Run as `python -m tests.running.filling PROJECTS` in an installation's environment: it makes the
tables and the school and prints as JSON what a test needs to know of them.
"""

from __future__ import annotations

import datetime as dt
import json
import subprocess
import sys
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from .house import House

FILL_SECONDS = 300


@dataclass(frozen=True)
class School:
    """What was made: numbers of rows, and the session of a teacher who is signed in."""

    course: int
    projects: list[int]
    session: str

    @property
    def plan_new(self) -> str:
        """Where a cut plan is asked for."""
        return f"/courses/{self.course}/plans/new/"

    @property
    def allot(self) -> str:
        """Where money is put into the course's budget."""
        return f"/courses/{self.course}/budget/allot/"


def fill(house: House, *, projects: int) -> School:
    """Make the school in this installation, which is not open yet or open already."""
    from .house import ROOT

    done = subprocess.run(
        [sys.executable, "-m", "tests.running.filling", str(projects)],
        cwd=ROOT,
        env=house.environment,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
        timeout=FILL_SECONDS,
    )
    assert done.returncode == 0, done.stderr[-3000:]
    return School(**json.loads(done.stdout.splitlines()[-1]))


def make(count: int) -> dict[str, Any]:
    from classroom.models import Role, Seat, User
    from inventory.buying.receiving import receive_purchase
    from inventory.buying.sheet_line import SheetLine
    from tests.people import make_cast, signed_in
    from tests.studio.plans import making

    cast = make_cast()
    metal = making.copper(cast)
    making.supplies(cast)
    making.allot(cast, "500.00")
    nine = Decimal(9)
    sheets = [
        SheetLine(metal, 1, Decimal(150 + number), Decimal(120), nine) for number in range(count)
    ]
    receive_purchase(cast.school, sheets, acting=cast.teacher, bought_on=dt.date(2026, 11, 2))
    brief = making.brief(cast, metal)
    projects = []
    for number in range(count):
        person = User.objects.create(
            username=f"student-{number}",
            display_name=f"Student {number}",
            role=Role.STUDENT,
            school=cast.school,
        )
        seat = Seat.objects.create(course=cast.course, student=person)
        projects.append(making.approved_project(brief, seat, metal, making.FISH, copies=3).pk)
    client = signed_in(cast.teacher)
    return {
        "course": cast.course.pk,
        "projects": projects,
        "session": client.cookies["sessionid"].value,
    }


if __name__ == "__main__":
    import django
    from django.core.management import call_command

    django.setup()
    call_command("migrate", verbosity=0)
    print(json.dumps(make(int(sys.argv[1]))))
