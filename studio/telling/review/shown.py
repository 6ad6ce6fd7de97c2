"""What the review pages, their print and their file all show of one course, brief or student."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any

from django.db.models import Count, Q, Sum
from django.http import QueryDict
from django.urls import reverse

from classroom.models import Course, School, Seat, User
from inventory.models import Metal
from studio.models import Brief, CutPlan, Project, Quote, Return
from studio.queries.patterns import projects_for
from studio.queries.plans import plans_for

from .balances import added, added_by, closed_of
from .causes import largest_causes, together, yields_of
from .charts import month_bars, sentences, used_bars, whole_bar
from .counted import NONE, borne_by_course
from .entries import Entry, entries_of, totals
from .filters import ReviewForm, ReviewRow, narrowed, ordered, rows_by
from .own_layouts import own_layouts_of, own_together

ROWS_PER_PAGE = 60
YIELDS_SHOWN = 20


def course_entries(user: User, courses: Sequence[Course]) -> list[Entry]:
    """Everything handed out in these courses that the person may see."""
    plans = plans_for(user).filter(course__in=courses)
    return entries_of(plans, projects_for(user).filter(brief__course__in=courses))


def review_context(
    user: User, course: Course, query: QueryDict, *, brief: Brief | None = None
) -> dict[str, Any]:
    """A course's review, or one brief's: filter, rows, totals, bars and sentences."""
    entries = course_entries(user, [course])
    if brief is not None:
        entries = [one for one in entries if one.project.brief_id == brief.pk]
    asked = query.copy()
    for name in ("as", "page"):
        asked.pop(name, None)
    form = _form(entries, asked, with_briefs=brief is None)
    shown = narrowed(entries, form)
    sort = str(form.cleaned_data.get("sort", "")) if form.is_bound else ""
    rows = [_linked(row, "student") for row in ordered(rows_by(shown, "project"), sort)]
    by_student = [_linked(row, "student") for row in ordered(rows_by(shown, "student"), sort)]
    by_brief = [_linked(row, "brief") for row in ordered(rows_by(shown, "brief"), sort)]
    by_metal = [
        replace(row, url=f"{reverse('course_review', args=[course.pk])}?metal={row.key}")
        for row in ordered(rows_by(shown, "metal"), sort)
    ]
    sums = totals(shown)
    school = course.school
    seen = {one.plan_pk for one in shown}
    yields = [
        one for one in yields_of(plans_for(user).filter(course=course)) if one.plan_pk in seen
    ]
    planned, real = together(yields)
    closed = closed_of(Return.objects.filter(plan__in=seen))
    own_layouts = own_layouts_of(shown)
    return {
        "own_layouts": own_layouts,
        "own_together": own_together(own_layouts),
        "balances": added_by(closed, "metal"),
        "balance_all": added("Together", closed),
        "months": month_bars(shown, school),
        "by_metal": by_metal,
        "yields": yields[:YIELDS_SHOWN],
        "yields_in_all": len(yields),
        "yield_planned": planned,
        "yield_real": real,
        "causes": largest_causes(yields),
        "course": course,
        "brief": brief,
        "form": form,
        "narrowed": form.words(),
        "rows": rows,
        "by_brief": by_brief,
        "sums": sums,
        "bar": [whole_bar(sums, "All metal handed out", school)] if shown else [],
        "bars": used_bars(by_student, school),
        "sentences": sentences(sums, by_brief, by_student, school),
        "anything": bool(entries),
        "planned_count": sum(not row.settled for row in rows),
        "reserved": _reserved(course, brief),
        "course_share": NONE if brief else borne_by_course(plans_for(user).filter(course=course)),
        "query": asked.urlencode(),
    }


def student_context(user: User, seats: Sequence[Seat], school: School) -> dict[str, Any]:
    """One student's statement: each project with the lines of its price."""
    plans = plans_for(user).filter(shares__project__seat__in=seats).distinct()
    projects = projects_for(user).filter(seat__in=seats)
    entries = entries_of(plans, projects)
    rows = ordered(rows_by(entries, "project"), "recent")
    rows = [replace(row, label=row.note, note=str(row.entries[0].project.brief)) for row in rows]
    rows = [replace(row, url=reverse("project", args=[row.key])) for row in rows]
    terms: dict[tuple[dt.date, str], list[ReviewRow]] = {}
    for row in rows:
        course = row.entries[0].project.brief.course
        terms.setdefault((course.starts_on, course.term), []).append(row)
    return {
        "terms": [
            _term(term, own, school)
            for (_, term), own in sorted(terms.items(), key=lambda pair: pair[0], reverse=True)
        ],
        "coming": _coming(projects),
    }


def _term(term: str, rows: list[ReviewRow], school: School) -> dict[str, Any]:
    """What a student's statement says of one term."""
    sums = totals(entry for row in rows for entry in row.entries)
    return {
        "term": term,
        "rows": rows,
        "sums": sums,
        "bar": [whole_bar(sums, "Metal handed out", school)],
        "bars": used_bars(rows, school),
    }


def overview_rows(user: User, courses: Sequence[Course]) -> list[ReviewRow]:
    """A row for each course, in the order given; courses without any metal have empty sums."""
    by_course: dict[int, list[Entry]] = {course.pk: [] for course in courses}
    for entry in course_entries(user, courses):
        by_course[entry.project.brief.course_id].append(entry)
    return [
        ReviewRow(
            str(course),
            course.term,
            reverse("course_review", args=[course.pk]),
            course.pk,
            totals(by_course[course.pk]),
            tuple(by_course[course.pk]),
        )
        for course in courses
    ]


def _form(entries: Sequence[Entry], query: QueryDict, *, with_briefs: bool) -> ReviewForm:
    briefs = {one.project.brief_id: one.project.brief for one in entries} if with_briefs else {}
    metals: dict[int, Metal] = {one.metal.pk: one.metal for one in entries}
    return ReviewForm(
        query or None,
        briefs=sorted(briefs.values(), key=lambda one: one.title.casefold()),
        metals=sorted(metals.values(), key=str),
    )


def _linked(row: ReviewRow, kind: str) -> ReviewRow:
    project = row.entries[0].project
    if kind == "brief":
        return replace(row, url=reverse("brief_review", args=[project.brief_id]))
    return replace(row, url=reverse("student_review", args=[project.seat_id]))


def _reserved(course: Course, brief: Brief | None) -> dict[str, Any]:
    """Metal that is reserved by approved plans and not handed out yet: how many, how much."""
    quotes = Quote.objects.filter(
        plan__course=course, plan__state=CutPlan.State.APPROVED, kind=Quote.Kind.PLANNED
    )
    if brief is not None:
        quotes = quotes.filter(project__brief=brief)
    found = quotes.aggregate(count=Count("pk"), total=Sum("total"))
    return {"count": found["count"], "total": found["total"] or Decimal(0)}


def _coming(projects: Any) -> list[dict[str, Any]]:
    """Own projects whose metal is not handed out yet, with what they will cost as planned."""
    waiting = (
        projects.filter(
            plan_shares__live=True,
            plan_shares__plan__state__in=[CutPlan.State.PROPOSED, CutPlan.State.APPROVED],
        )
        .annotate(
            planned=Sum(
                "quotes__total",
                filter=Q(quotes__kind=Quote.Kind.PLANNED)
                & Q(quotes__plan__state__in=[CutPlan.State.PROPOSED, CutPlan.State.APPROVED])
                & Q(quotes__plan__rival_of=None),
            )
        )
        .order_by("pk")
    )
    return [
        {
            "label": project.title or project.brief.title,
            "url": reverse("project", args=[project.pk]),
            "total": project.planned,
            "allowance": project.brief.allowance,
            "stage": Project.Stage(project.stage).label,
        }
        for project in waiting
    ]
