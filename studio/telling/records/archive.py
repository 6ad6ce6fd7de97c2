"""Everything of a course as CSV files in one ZIP: to keep when the course is over. Reads only.

Texts are defused as in every table of the house; the ZIP's names are fixed, nobody steers them.
"""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Callable, Iterable, Iterator
from decimal import Decimal
from typing import IO, Final

from django.db.models import Q

from classroom.figures.rounding import MM2_PLACES, plain
from classroom.models import BenchPermit, Course, Seat, subject_of
from inventory.models import BudgetEntry, StockMovement
from inventory.spreadsheets import cell
from studio.models import BenchStep, Brief, CutPlan, Pattern, Project, QuoteLine, Return, SignOff
from studio.steps.rack.returned_areas import corrected, resized_offcuts, resizings
from studio.steps.rack.scrap_weights import scrap_corrections

Rows = Iterator[Iterable[object]]
README: Final = """One course, kept as tables.

Lengths are in millimetres, areas in square millimetres, weights in grams, money in the currency
that course.csv names, times in UTC. A text that a spreadsheet would run begins with an apostrophe.
Names of students are in students.csv only; the other tables name a student by that table's number.
"""


def write_archive(course: Course, into: IO[bytes]) -> None:
    """Write the course's ZIP. The number of queries does not grow with the class."""
    with zipfile.ZipFile(into, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("README.txt", README)
        for name, head, rows in _tables(course):
            archive.writestr(f"{name}.csv", "\ufeff" + _csv(head, rows(course)))


def _csv(head: tuple[str, ...], rows: Rows) -> str:
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\r\n")
    writer.writerow(head)
    writer.writerows([cell("" if value is None else value) for value in row] for row in rows)
    return buffer.getvalue()


def _tables(course: Course) -> list[tuple[str, tuple[str, ...], Callable[[Course], Rows]]]:
    return [
        ("course", ("title", "section", "term", "first day", "last day", "currency"), _course),
        ("students", ("student", "name", "joined", "left"), _students),
        ("permits", ("student", "topic", "given", "expires", "withdrawn"), _permits),
        (
            "briefs",
            ("brief", "title", "metals", "allowance", "due", "widest_mm", "highest_mm", "text"),
            _briefs,
        ),
        (
            "projects",
            ("project", "student", "brief", "title", "metal", "stage", "since"),
            _projects,
        ),
        (
            "patterns",
            ("project", "number", "state", "file", "sha256", "uploaded", "reviewed", "remark"),
            _patterns,
        ),
        ("steps", ("project", "number", "step", "started", "student signed", "done"), _steps),
        ("sign-offs", ("project", "step", "what", "when", "by", "reason"), _sign_offs),
        ("plans", ("plan", "metal", "state", "made", "approved", "handed out", "closed"), _plans),
        ("prices", ("plan", "project", "kind", "line", "text", "amount"), _prices),
        (
            "returns",
            ("plan", "out_mm2", "pieces_mm2", "offcuts_mm2", "kerf_mm2", "scrap_mm2", "scrap_g"),
            _returns,
        ),
        ("budget", ("when", "kind", "amount", "who", "why", "cause"), _budget),
        ("metal", ("when", "stock piece", "kind", "area_mm2", "cost", "why", "cause"), _metal),
    ]


def _course(course: Course) -> Rows:
    currency = course.school.currency
    yield (
        course.title, course.section, course.term, course.starts_on, course.ends_on, currency,
    )  # fmt: skip


def _students(course: Course) -> Rows:
    for seat in Seat.objects.filter(course=course).select_related("student").order_by("pk"):
        yield seat.student_id, seat.student.display_name, seat.joined_at, seat.left_at


def _permits(course: Course) -> Rows:
    permits = BenchPermit.objects.filter(student__seats__course=course).select_related(
        "topic", "withdrawal"
    )
    for one in permits.order_by("student_id", "pk"):
        withdrawn = one.withdrawal.withdrawn_at if hasattr(one, "withdrawal") else None
        yield one.student_id, one.topic.code, one.given_at, one.expires_on, withdrawn


def _briefs(course: Course) -> Rows:
    for one in Brief.objects.filter(course=course).prefetch_related("metals").order_by("pk"):
        metals = ", ".join(str(metal) for metal in one.metals.all())
        yield (
            one.pk, one.title, metals, one.allowance, one.due_on,
            one.max_width_mm, one.max_height_mm, one.text,
        )  # fmt: skip


def _projects(course: Course) -> Rows:
    projects = Project.objects.filter(brief__course=course).select_related("seat", "metal")
    for one in projects.order_by("pk"):
        yield (
            one.pk, one.seat.student_id, one.brief_id, one.title, one.metal or "",
            one.get_stage_display(), one.stage_since,
        )  # fmt: skip


def _patterns(course: Course) -> Rows:
    patterns = Pattern.objects.filter(project__brief__course=course).defer(
        "tracing", "drawing_json", "findings_json", "relabels", "changes"
    )
    for one in patterns.order_by("project_id", "number"):
        yield (
            one.project_id, one.number, one.get_state_display(), one.file_name, one.sha256,
            one.uploaded_at, one.reviewed_at, one.remark,
        )  # fmt: skip


def _steps(course: Course) -> Rows:
    steps = BenchStep.objects.filter(project__brief__course=course).defer("wording")
    for one in steps.order_by("project_id", "number"):
        yield (
            one.project_id, one.number, one.title, one.started_at, one.student_signed_at,
            one.done_at,
        )  # fmt: skip


def _sign_offs(course: Course) -> Rows:
    signs = SignOff.objects.filter(step__project__brief__course=course).values_list(
        "step__project_id", "step__title", "kind", "at", "by_id", "reason"
    )
    yield from signs.order_by("pk")


def _plans(course: Course) -> Rows:
    plans = CutPlan.objects.filter(course=course).select_related("metal").defer("job", "answer")
    for one in plans.order_by("pk"):
        yield (
            one.pk, one.metal, one.get_state_display(), one.created_at, one.approved_at,
            one.issued_at, one.closed_at,
        )  # fmt: skip


def _prices(course: Course) -> Rows:
    yield from (
        QuoteLine.objects.filter(quote__plan__course=course)
        .order_by("quote_id", "position")
        .values_list(
            "quote__plan_id", "quote__project_id", "quote__kind", "position", "text", "amount"
        )
    )


def _returns(course: Course) -> Rows:
    rows = list(Return.objects.filter(plan__course=course).order_by("plan_id"))
    later, resized = scrap_corrections(rows), resized_offcuts(one.plan_id for one in rows)
    for one in rows:
        area = corrected(one.balance["area_mm2"], resized.get(one.plan_id))
        names = ("out", "pieces", "offcuts", "kerf", "scrap")
        mass = one.scrap_mass_g + later.get(one.plan_id, Decimal(0))
        yield one.plan_id, *(plain(area[name], MM2_PLACES) for name in names), mass


def _budget(course: Course) -> Rows:
    entries = BudgetEntry.objects.filter(budget__course=course).order_by("pk")
    yield from entries.values_list("at", "kind", "amount", "actor__display_name", "reason", "cause")


def _metal(course: Course) -> Rows:
    """What the course's plans moved, and what was corrected later of the offcuts that came back:
    so the table says the same as returns.csv."""
    plans = list(CutPlan.objects.filter(course=course).only("pk"))
    theirs = Q(cause__in=[subject_of(plan) for plan in plans])
    later = Q(pk__in=resizings(plan.pk for plan in plans).values("pk"))
    moves = StockMovement.objects.filter(theirs | later).order_by("pk")
    yield from moves.values_list(
        "at", "stock_piece__code", "kind", "area_mm2", "cost", "reason", "cause"
    )
