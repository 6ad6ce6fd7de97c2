"""A student's layout on the pages of its pattern and project and on the layout table: what handing
in means for it. A plan's layout on the table: what using it does."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.urls import reverse

from classroom.models import School, User
from studio.models import Brief, Layout, Pattern, Project
from studio.steps.at_work import why_shut
from studio.steps.layouts.hand_in import laid_since
from studio.steps.layouts.may_lay import may_change, why_plan_is_fixed
from studio.steps.layouts.outcome import chosen_layout
from studio.steps.layouts.standing import what_no_longer_holds

from .marks import remark_on
from .shown import LayoutShown, shown_layout

State = Pattern.State


@dataclass(frozen=True, slots=True)
class HandingIn:
    """What `studio/layouts/hand_in.html` says and offers. `layout` is the try that counts, `shown`
    its picture where the page has no other, `renew` a try that may take today's rules in."""

    pattern: Pattern
    layout: Layout | None
    shown: LayoutShown | None
    begin_url: str
    renew: bool
    stands: bool
    least_kept: int | None
    may_hand_in: bool
    returned: bool  # the pattern was handed back with the layout
    again: bool  # and the layout has been changed since

    @property
    def is_handed_in(self) -> bool:
        return self.layout is not None and self.layout.is_handed_in

    @property
    def may_go_without(self) -> bool:
        return self.layout is not None and not self.stands


def handing_in(
    project: Project,
    pattern: Pattern | None,
    school: School,
    *,
    student: bool,
    open_work: bool,
    pictured: bool = True,
) -> HandingIn | None:
    """None where the brief has the server lay out, or the pattern has nothing to lay."""
    brief = project.brief
    if brief.laid_by == Brief.LaidBy.SERVER or pattern is None or not pattern.may_be_handed_in:
        return None
    layout = chosen_layout(project)
    if layout is not None:
        layout.project = project
    returned = pattern.state == State.RETURNED and layout is not None
    again = returned and laid_since(pattern, layout)
    changing = returned and not pictured  # on the table it is changed after the page was made
    theirs = student and open_work and pattern.state in (State.DRAFT, State.RETURNED)
    shown = None
    if layout is not None and pictured:
        shown = shown_layout(layout, pattern, school, mark=pattern.mark)
    return HandingIn(
        pattern=pattern,
        layout=layout,
        shown=shown,
        begin_url=reverse("project_layout", args=[project.pk]) if theirs else "",
        renew=theirs
        and shown is not None
        and bool(shown.changed)
        and may_change(shown.layout, project.student),
        stands=brief.laid_by == Brief.LaidBy.STANDS,
        least_kept=brief.least_kept_percent,
        may_hand_in=theirs and (pattern.state == State.DRAFT or again or changing),
        returned=returned,
        again=again,
    )


def part_of_table(user: User, layout: Layout) -> dict[str, Any]:
    """What `studio/layouts/job.html` shows on the layout table: how the layout gets into the job,
    what of it no longer holds, and the remark with which it was handed back."""
    school = user.school
    changed = what_no_longer_holds(layout)
    part: dict[str, Any] = {
        "changed": changed,
        "may_renew": bool(changed) and may_change(layout, user),
        "is_teacher": user.is_teacher,
    }
    if layout.plan is not None:
        part["use_url"] = _use_url(user, layout)
        part["relay_url"] = _relay_url(layout)
        return part
    project = layout.project
    assert project is not None
    pattern = project.patterns.current().defer("tracing").select_related("reviewed_by").first()
    part["remark"] = remark_on(layout, pattern, school.units)
    if user.is_student:
        part["counts"] = layout.chosen
        part["handing_in"] = handing_in(
            project,
            pattern,
            school,
            student=True,
            open_work=not why_shut(project),
            pictured=False,
        )
    elif pattern is not None and pattern.state == State.HANDED_IN:
        part["review_url"] = reverse("pattern_review", args=[pattern.pk])
        part["may_nudge"] = layout.is_handed_in and layout.owner_id != user.pk
    return part


def _relay_url(layout: Layout) -> str:
    """Where a layout of a student's own blank becomes what is sawn of it."""
    assert layout.plan is not None
    if layout.plan.parent_id is None or why_plan_is_fixed(layout.plan):
        return ""
    return reverse("layout_relay", args=[layout.pk])


def _use_url(user: User, layout: Layout) -> str:
    assert layout.plan is not None
    if layout.plan.parent_id is not None:
        return ""
    if not user.is_teacher or why_plan_is_fixed(layout.plan) or layout.plan.rival_of_id:
        return ""
    return reverse("layout_use", args=[layout.pk])
