"""What the judge says of a layout that is to be used, worked out before anything is held.

Judging takes up to seconds of a processor, and whoever holds a project meanwhile (on SQLite the
whole database) lets everybody wait. So it is done first, and used if the layout is still in that
state.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from classroom.models import School
from classroom.refusals import Refused
from studio.models import Brief, Layout, Project

from .judged import judged_fit
from .outcome import Worth, servers_worth, worth_of


@dataclass(frozen=True, slots=True)
class Weighed:
    """Of one state of a layout: what it comes to and what the server's comes to, or why it is not
    fit to be used."""

    layout_pk: int
    version: int
    figures: Worth = field(default_factory=dict)
    beside: Worth = field(default_factory=dict)
    refusal: Refused | None = None


def weighed(layout: Layout, school: School) -> Weighed:
    try:
        found = judged_fit(layout.asked, layout.laid)
    except Refused as refusal:
        return Weighed(layout.pk, layout.version, refusal=refusal)
    figures = worth_of(layout.asked, layout.laid, school, (found.measures, found.offcuts))
    return Weighed(layout.pk, layout.version, figures, servers_worth(layout, school))


def weighed_ahead(project: Project) -> Weighed | None:
    """The project's try that counts, as it is now; none where no layout is taken in."""
    if project.brief.laid_by == Brief.LaidBy.SERVER:
        return None
    layout = chosen_layout(project)
    return None if layout is None else weighed(layout, project.brief.course.school)


def weighed_now(layout: Layout, school: School, ahead: Weighed | None) -> Weighed:
    """What was worked out ahead if it is of this state, else worked out now. Raises Refused where
    the layout is not fit to be used."""
    found = ahead
    if found is None or (found.layout_pk, found.version) != (layout.pk, layout.version):
        found = weighed(layout, school)
    if found.refusal is not None:
        raise found.refusal
    return found


def chosen_layout(project: Project) -> Layout | None:
    """The project's try that counts, handed in or not."""
    return project.layouts.filter(chosen=True).select_related("owner").first()
