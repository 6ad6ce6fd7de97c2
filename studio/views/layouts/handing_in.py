"""A student's layout on the pages of its pattern and project: what handing in means for it."""

from __future__ import annotations

from dataclasses import dataclass

from django.urls import NoReverseMatch, reverse

from classroom.models import School
from studio.models import Brief, Pattern, Project
from studio.steps.layouts.hand_in import chosen_layout

from .on_other_pages import LayoutShown, shown_layout

State = Pattern.State


@dataclass(frozen=True, slots=True)
class HandingIn:
    """What `studio/layouts/hand_in.html` says and offers. `shown` is the try that counts."""

    pattern: Pattern
    shown: LayoutShown | None
    begin_url: str
    stands: bool
    least_kept: int | None
    may_hand_in: bool
    again: bool  # the pattern was handed back, and its layout has been changed since

    @property
    def is_handed_in(self) -> bool:
        return self.shown is not None and self.shown.layout.is_handed_in

    @property
    def may_go_without(self) -> bool:
        return self.shown is not None and not self.stands


def handing_in(
    project: Project, pattern: Pattern | None, school: School, *, student: bool, open_work: bool
) -> HandingIn | None:
    """None where the brief has the server lay out, or the pattern has nothing to lay."""
    brief = project.brief
    if brief.laid_by == Brief.LaidBy.SERVER or pattern is None or not pattern.may_be_handed_in:
        return None
    layout = chosen_layout(project)
    if layout is not None:
        layout.project = project
    changed = layout is not None and _since(pattern, layout.changed_at)
    again = pattern.state == State.RETURNED and changed
    may = student and open_work and (pattern.state == State.DRAFT or again)
    shown = None if layout is None else shown_layout(layout, pattern, school, mark=pattern.mark)
    return HandingIn(
        pattern=pattern,
        shown=shown,
        begin_url=_begin_url(project) if student and open_work else "",
        stands=brief.laid_by == Brief.LaidBy.STANDS,
        least_kept=brief.least_kept_percent,
        may_hand_in=may,
        again=again,
    )


def _since(pattern: Pattern, at: object) -> bool:
    return pattern.reviewed_at is not None and at > pattern.reviewed_at  # type: ignore[operator]


def _begin_url(project: Project) -> str:
    try:
        return reverse("project_layout", args=[project.pk])
    except NoReverseMatch:
        return ""
