"""A small studio for tests of cut plans: copper on the rack, projects with approved patterns."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

from django.core.files.base import ContentFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from shapely.geometry import Polygon, box

from classroom.models import Role, Seat, User
from inventory.models import Consumable, Metal, StockPiece
from inventory.spending import ledger
from studio.core.drawing import Drawing, DrillKind, DrillMark, Piece
from studio.models import Brief, CutPlan, Pattern, PlacingJob, Project
from studio.running.placing import doing as running
from studio.steps.plans.approve import approve_plan
from studio.steps.plans.place import propose
from tests.people import Cast

FISH = Polygon(
    [(0, 8), (8, 0), (24, 1), (34, 7), (44, 1), (43, 15), (34, 10), (24, 16), (8, 16)],
    [[(10, 6), (18, 6), (18, 11), (10, 11)]],
)
SAIL = Polygon([(0, 0), (30, 0), (0, 40)])
TAG = box(0, 0, 40, 20)
WINDOW_TAG = TAG.difference(box(8, 6, 30, 14))


def copper(cast: Cast, thickness: str = "0.812") -> Metal:
    metal, _ = Metal.objects.get_or_create(
        school=cast.school, alloy_code="C11000", thickness_mm=Decimal(thickness)
    )
    return metal


def stock(
    metal: Metal,
    code: str,
    outline: Any = None,
    *,
    cost: str = "31.40",
    kind: str = StockPiece.Kind.SHEET,
) -> StockPiece:
    shape = box(0, 0, 152.4, 304.8) if outline is None else outline
    x0, y0, x1, y1 = shape.bounds
    return StockPiece.objects.create(
        school=metal.school,
        metal=metal,
        code=code,
        kind=kind,
        outline=shape.wkt,
        area_mm2=Decimal(f"{shape.area:.2f}"),
        width_mm=Decimal(f"{x1 - x0:.2f}"),
        height_mm=Decimal(f"{y1 - y0:.2f}"),
        cost=Decimal(cost),
    )


def brief(cast: Cast, metal: Metal, title: str = "A tag with a window", **more: Any) -> Brief:
    made = Brief.objects.create(
        course=cast.course,
        title=title,
        allowance=more.pop("allowance", Decimal("6.00")),
        created_by=cast.teacher,
        **more,
    )
    made.metals.add(metal)
    return made


def approved_project(
    of_brief: Brief, seat: Seat, metal: Metal, *outlines: Polygon, copies: int = 1, **more: Any
) -> Project:
    """A project at the stage where it waits to be placed."""
    project = Project.objects.create(
        brief=of_brief,
        seat=seat,
        metal=metal,
        stage=Project.Stage.PATTERN_APPROVED,
        title=more.pop("title", ""),
    )
    drawing = Drawing(
        tuple(
            Piece(str(number), outline, _marks(outline))
            for number, outline in enumerate(outlines or (WINDOW_TAG,), start=1)
        )
    )
    Pattern.objects.create(
        project=project,
        number=1,
        state=Pattern.State.APPROVED,
        file=ContentFile(b"<svg/>", name="tag.svg"),
        file_name="tag.svg",
        sha256="0" * 64,
        copies=copies,
        tracing={},
        drawing_json=drawing.to_json(),
        reviewed_at=timezone.now(),
    )
    return project


def _marks(outline: Polygon) -> tuple[DrillMark, ...]:
    spot = outline.representative_point()
    return (DrillMark(spot.x, spot.y, 1.6, DrillKind.RING),)


def supplies(cast: Cast) -> list[Consumable]:
    """Blades, abrasive, glue and a drill, each by another measure."""
    rows = (
        ("Saw blades 2/0", "blade", "0.42", "18", "cm_sawn"),
        ("Abrasive paper, 320 grit", "abrasive", "1.10", "300", "cm2"),
        ("Drill 1.0 mm", "drill", "1.25", "40", "hole"),
        ("Bench apron wash", "other", "0.30", "1", "project"),
    )
    return [
        Consumable.objects.create(
            school=cast.school,
            name=name,
            kind=kind,
            unit=kind,
            price=Decimal(price),
            priced_on=timezone.localdate(),
            uses_per_unit=Decimal(uses),
            per=per,
        )
        for name, kind, price, uses, per in rows
    ]


def allot(cast: Cast, amount: str = "100.00") -> None:
    ledger.allot(
        ledger.open_budget(cast.course), Decimal(amount), acting=cast.teacher, reason="for tests"
    )


def placed(cast: Cast, *projects: Project, rounds: int | None = 2, seed: int = 1) -> CutPlan:
    """A proposed plan of these projects, placed here and now.

    A number of rounds and not a time ends the search, so that a slow machine finds the same
    plan; with `rounds=None` it is the plan's own second that ends it.
    """
    plan = propose(projects, acting=cast.teacher, seconds=1.0, seed=seed)
    run(plan, rounds=rounds)
    plan.refresh_from_db()
    return plan


def run(plan: CutPlan, worker: str = "worker-1", *, rounds: int | None = 2) -> bool:
    """Do what a worker does with the plan's job."""
    return running.run(PlacingJob.objects.get(plan=plan).pk, worker, rounds=rounds)


def a_class(cast: Cast, count: int) -> list[Seat]:
    """Seats of `count` more students in the course."""
    seats = []
    for number in range(count):
        name = f"student-{number}"
        person = User.objects.create_user(
            name, None, display_name=name, role=Role.STUDENT, school=cast.school
        )
        seats.append(Seat.objects.create(course=cast.course, student=person))
    return seats


def queries(client: Client, url: str, **headers: str) -> int:
    """How often a page asks the database."""
    with CaptureQueriesContext(connection) as seen:
        assert client.get(url, headers=headers).status_code == 200
    return len(seen)


def approving(plan: CutPlan, teacher: User) -> Callable[[], Any]:
    """The deed of a teacher who approves the plan as it is now."""
    return lambda: approve_plan(
        CutPlan.objects.select_related("course__school").get(pk=plan.pk), acting=teacher
    )


def job_of(plan: CutPlan) -> PlacingJob:
    return PlacingJob.objects.get(plan=plan)


def shared_plan(cast: Cast) -> CutPlan:
    """A proposed plan that the owner and the classmate share."""
    metal = copper(cast)
    stock(metal, "CU-1", box(0, 0, 120, 90), cost="12.00")
    supplies(cast)
    allot(cast, "50.00")
    a_brief = brief(cast, metal, allowance=Decimal("0.50"))
    return placed(
        cast,
        approved_project(a_brief, cast.seat, metal, title="Harbour tag"),
        approved_project(a_brief, cast.classmate_seat, metal, FISH, title="Secret fish"),
    )
