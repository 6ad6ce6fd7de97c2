"""Does a layout still hold? What it is laid by, against today's pattern, stock pieces and rules."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from django.utils.translation import gettext, gettext_noop

from classroom.figures.units import format_thickness
from classroom.models import School
from inventory.models import StockPiece
from inventory.queries import stock_labelled
from studio.core.laying_out.holds import (
    EDGES_CHANGED,
    GRAIN_CHANGED,
    METAL_CHANGED,
    METAL_GONE,
    OF_METAL,
    PIECE_CHANGED,
    PIECE_GONE,
    PIECE_NEW,
    Change,
    changes,
)
from studio.core.laying_out.metal import cut_to
from studio.models import CutPlan, Layout, Pattern, PlanStock
from studio.steps.plans.asking import make_job
from studio.steps.plans.taking_layouts import rectangles_of

from .may_lay import why_plan_is_fixed
from .parting import parted_as

OTHER_METAL: Final = "other-metal"

SENTENCES: Final = {
    PIECE_GONE: gettext_noop("Piece %(what)s is not in the pattern any more."),
    PIECE_NEW: gettext_noop("Piece %(what)s is new in the pattern."),
    PIECE_CHANGED: gettext_noop("Piece %(what)s of the pattern has changed."),
    METAL_GONE: gettext_noop("%(what)s is not free on the rack any more."),
    METAL_CHANGED: gettext_noop("The outline of %(what)s has been corrected."),
    EDGES_CHANGED: gettext_noop("The edges of %(what)s have been corrected."),
    OTHER_METAL: gettext_noop("%(what)s is not of the metal that the project has now."),
    GRAIN_CHANGED: gettext_noop("The grain of %(what)s is told otherwise now."),
    "kerf": gettext_noop("The saw takes %(now)s now, not %(before)s."),
    "gap": gettext_noop("Pieces keep %(now)s between them now, not %(before)s."),
    "shared": gettext_noop("A shared line is %(now)s wide now, not %(before)s."),
    "straight": gettext_noop("A straight side is at least %(now)s long now, not %(before)s."),
    "margin": gettext_noop("Along rough edges %(now)s stay free now, not %(before)s."),
}


def what_no_longer_holds(layout: Layout, pattern: Pattern | None = None) -> list[str]:
    """Sentences, one for each thing that is another than when the layout was laid; none where it
    holds as it is, and where its metal is reserved for it or cut. `pattern` is the version of today
    where the caller has it."""
    if _is_settled(layout):
        return []
    school = layout.course.school
    today = job_of_today(layout, patterns_of_today(layout, pattern))
    other = of_other_metal(layout)
    found = tuple(
        one if one.what not in other or one.code not in OF_METAL else Change(OTHER_METAL, one.what)
        for one in changes(layout.job, today)
    )
    if layout.plan is not None:  # a plan is offered more metal than it lies on
        touched = {p.metal for p in layout.laid}
        found = tuple(one for one in found if one.code not in OF_METAL or one.what in touched)
    return [_words(change, school) for change in found]


def _is_settled(layout: Layout) -> bool:
    """Whether an approved plan has taken it, or the plan that it is of is over."""
    if layout.plan is not None:
        return bool(why_plan_is_fixed(layout.plan))
    states = (
        *(CutPlan.State.APPROVED, CutPlan.State.ISSUED),
        *(CutPlan.State.CLOSED, CutPlan.State.PARTED),
    )
    return layout.plan_shares.filter(live=True, plan__state__in=states).exists()


def patterns_of_today(layout: Layout, pattern: Pattern | None = None) -> list[Pattern]:
    """The version of the pattern that counts now; of a plan's layout, what the plan has placed."""
    if layout.plan is not None:
        shares = layout.plan.shares.select_related("pattern", "project__brief__course")
        rows = [(share.pattern, share.project) for share in shares]
    else:
        project = layout.project
        assert project is not None
        current = pattern or project.patterns.current().defer("tracing").first() or layout.pattern
        rows = [(current, project)] if current is not None else []
    for each, project in rows:
        each.project = project
    return [each for each, _ in rows]


def job_of_today(layout: Layout, patterns: Sequence[Pattern]) -> dict[str, Any]:
    """What the layout would be laid by today: these patterns, today's rules, and of its stock
    pieces those that are free for it, each whole or the rectangle of it that is laid on."""
    if layout.plan is not None and layout.plan.parent_id is not None:
        return dict(layout.plan.job)  # an own blank keeps the rules of the sheet that it is of
    rack = _free_for(layout)
    job = make_job(patterns, list(rack.values()), layout.course.school)
    rectangles = rectangles_of(layout)
    metal = [
        cut_to(entry, rectangles[entry["id"]]) if entry["id"] in rectangles else entry
        for entry in job["metal"]
    ]
    if layout.plan is not None:
        job = parted_as(job, layout.job)
    return job | {"metal": [entry for entry in metal if entry is not None]}


def of_other_metal(layout: Layout) -> set[str]:
    """Label codes of the layout's stock pieces that are not of the metal which its project has
    chosen since."""
    chosen = None if layout.project is None else layout.project.metal_id
    if chosen is None:
        return set()
    rows = stock_labelled(layout.course.school, [metal["id"] for metal in layout.job["metal"]])
    return set(rows.exclude(metal=chosen).values_list("code", flat=True))


def _free_for(layout: Layout) -> dict[str, StockPiece]:
    """The layout's stock pieces on the rack and of the project's metal, or reserved for the very
    plan that it is of."""
    codes = [metal["id"] for metal in layout.job["metal"]]
    rows = stock_labelled(layout.course.school, codes)
    other = of_other_metal(layout)
    own: set[int] = set()
    if layout.plan is not None and layout.plan.state == CutPlan.State.APPROVED:
        held = PlanStock.objects.filter(plan=layout.plan, live=True)
        own = set(held.values_list("stock_piece_id", flat=True))
    free = {row.code: row for row in rows if row.state == StockPiece.State.RACK or row.pk in own}
    return {code: free[code] for code in codes if code in free and code not in other}


def _words(change: Change, school: School) -> str:
    facts = {
        "what": change.what,
        "before": _length(change.before_mm, school),
        "now": _length(change.now_mm, school),
    }
    sentence = gettext(SENTENCES[change.code])
    return sentence % {name: value for name, value in facts.items() if f"%({name})s" in sentence}


def _length(value_mm: float | None, school: School) -> str:
    return gettext("nothing") if value_mm is None else format_thickness(value_mm, school.units)
