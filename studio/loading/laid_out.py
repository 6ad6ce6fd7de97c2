"""A student's layout of a full sheet: `python -m studio.loading.laid_out`.

A process of its own, since the installation's database is not the caller's. Prints the student's
session and the address of the layout table as JSON.
"""

from __future__ import annotations

import datetime as dt
import json
import random
import sys
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING

from .full_sheet import HIGH_MM, PIECES, WIDE_MM, lobed, spots
from .population import _cookie, _Maker

if TYPE_CHECKING:
    from inventory.models import StockPiece
    from studio.models import Project


class _Layer(_Maker):
    """One course with one student, whose draft has no stops and lies on one sheet."""

    def laid(self) -> dict[str, str]:
        from django.urls import reverse

        from classroom.models import Role, Seat
        from studio.core.cutting import Placement
        from studio.queries.layouts import layout_for
        from studio.steps.layouts.begin import begin
        from studio.steps.layouts.change import Move, put
        from studio.steps.patterns.start_project import start_project

        student = self._person("student-000", Role.STUDENT)
        brief = self._brief(self._course(0))
        seat = Seat.objects.create(course=brief.course, student=student)
        project = start_project(brief, seat, acting=student)
        project.metal = self.metal
        project.save()
        self._pattern(project)
        sheet = self._sheet()
        one = begin(project, acting=student)
        moves = []
        chance = random.Random(1)  # noqa: S311 - for a benchmark
        for wanted, spot in zip(one.asked.pieces, spots(chance), strict=True):
            there = Placement(wanted.id, 0, sheet.code, **spot)
            moves.append(Move(wanted.id, 0, there))
        put(layout_for(student, one.pk), moves, acting=student)
        return {"cookie": _cookie(student), "path": reverse("layout", args=[one.pk])}

    def _sheet(self) -> StockPiece:
        from inventory.buying import receiving
        from inventory.buying.sheet_line import SheetLine
        from inventory.models import StockPiece

        wide, high = Decimal(str(WIDE_MM)), Decimal(str(HIGH_MM))
        line = SheetLine(self.metal, 1, wide, high, total=Decimal("30.00"))
        receiving.receive_purchase(
            self.school, [line], acting=self.teachers[0], bought_on=dt.date.today()
        )
        return StockPiece.objects.order_by("-pk")[0]

    def _pattern(self, project: Project) -> None:
        from django.core.files.base import ContentFile

        from studio.core.drawing import Drawing, Piece
        from studio.models import Pattern

        pieces = tuple(Piece(str(number + 1), lobed(number)) for number in range(PIECES))
        Pattern.objects.create(
            project=project,
            number=1,
            file=ContentFile(b"<svg/>", name="full.svg"),
            file_name="full.svg",
            sha256="0" * 64,
            copies=1,
            tracing={},
            drawing_json=Drawing(pieces).to_json(),
        )


if __name__ == "__main__":
    import tempfile

    import django
    from django.core.management import call_command

    django.setup()
    call_command("migrate", interactive=False, verbosity=0)
    with tempfile.TemporaryDirectory() as folder:
        json.dump(_Layer(Path(folder)).laid(), sys.stdout)
