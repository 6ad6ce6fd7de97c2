"""A class that is about to upload: `python -m studio.loading.uploading STUDENTS`.

A process of its own, since the installation's database is not the caller's. Prints the students'
sessions, where each uploads, and with which metal, as JSON.
"""

from __future__ import annotations

import datetime as dt
import json
import sys
from decimal import Decimal
from pathlib import Path
from typing import Any

from .population import _cookie, _Maker


class _Class(_Maker):
    """One course, every student with a project and no pattern, and a rack with some offcuts."""

    def wanting(self, students: int) -> list[dict[str, Any]]:
        from django.urls import reverse

        from classroom.models import Role, Seat
        from inventory.buying import receiving
        from inventory.buying.sheet_line import SheetLine
        from studio.steps.patterns.start_project import start_project

        today = dt.date.today()
        for wide, high in ((60, 45), (90, 40), (75, 75)):
            line = SheetLine(self.metal, 6, Decimal(wide), Decimal(high), total=Decimal("30.00"))
            receiving.receive_purchase(
                self.school, [line], acting=self.teachers[0], bought_on=today
            )
        brief = self._brief(self._course(0))
        found = []
        for number in range(students):
            student = self._person(f"student-{number:03}", Role.STUDENT)
            seat = Seat.objects.create(course=brief.course, student=student)
            project = start_project(brief, seat, acting=student)
            found.append(
                {
                    "cookie": _cookie(student),
                    "path": reverse("pattern_upload", args=[project.pk]),
                    "metal": str(self.metal.pk),
                }
            )
        return found


if __name__ == "__main__":
    import tempfile

    import django
    from django.core.management import call_command

    django.setup()
    call_command("migrate", interactive=False, verbosity=0)
    with tempfile.TemporaryDirectory() as folder:
        json.dump(_Class(Path(folder)).wanting(int(sys.argv[1])), sys.stdout)
