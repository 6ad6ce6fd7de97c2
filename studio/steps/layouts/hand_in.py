"""A layout goes to the teacher together with its pattern, and comes back with it.

Called inside the transaction of the pattern's step, which holds the project.
"""

from __future__ import annotations

from typing import Any

from django.utils import timezone
from django.utils.translation import gettext

from classroom.refusals import Refused
from studio.core.laying_out.holds import PIECE_CHANGED, PIECE_GONE, PIECE_NEW, changes
from studio.models import Brief, Layout, Pattern, Project
from studio.steps.plans.asking import make_job

from .change import made_elsewhere
from .outcome import Weighed, Worth, chosen_layout, kept_of, kept_share, weighed_now
from .standing import of_other_metal

PERCENT = 100.0
OF_THE_PATTERN = (PIECE_CHANGED, PIECE_GONE, PIECE_NEW)


def hand_in_layout(
    pattern: Pattern, *, without: bool = False, ahead: Weighed | None = None
) -> Layout | None:
    """Take the project's chosen layout in with this pattern; none where the brief has the server
    lay out, where there is none, or where the student hands in `without` it. `ahead` is what was
    worked out before the project was held.

    Raises Refused, in the language of the page, where the layout is not fit to be used, keeps
    too little of its metal or was laid for another version, and where the brief wants one.
    """
    project = pattern.project
    brief = project.brief
    if brief.laid_by == Brief.LaidBy.SERVER:
        return None
    wanted = brief.laid_by == Brief.LaidBy.STANDS
    layout = chosen_layout(project)
    if without and not wanted:
        return None
    if layout is None:
        if wanted:
            raise Refused(
                gettext(
                    "This brief takes a pattern in together with its layout. Lay your pieces out "
                    "and choose the layout first."
                )
            )
        return None
    try:
        _take_in(layout, pattern, brief, ahead)
    except Refused as refusal:
        if wanted:
            raise
        otherwise = gettext(
            "Or tick “Hand in without my layout”; then the server lays your pieces."
        )
        raise Refused(f"{refusal} {otherwise}") from None
    return layout


def laid_since(pattern: Pattern, layout: Layout | None) -> bool:
    """Whether the layout has been changed, or chosen, since the teacher answered the pattern."""
    answered = pattern.reviewed_at
    return layout is not None and answered is not None and layout.changed_at > answered


def give_layouts_back(project: Project) -> None:
    """The pattern is taken back or handed back: its layouts are open again."""
    project.layouts.handed_in().update(handed_in_at=None)


def _take_in(layout: Layout, pattern: Pattern, brief: Brief, ahead: Weighed | None) -> None:
    _same_pattern(layout, pattern, brief)
    _same_metal(layout, pattern.project)
    found = weighed_now(layout, brief.course.school, ahead)
    least = brief.least_kept_percent
    kept = PERCENT * (kept_share(found.figures) or 0.0)
    if least is not None and kept < least:
        raise Refused(
            gettext(
                "Your layout leaves %(kept)s %% of its metal whole; your teacher asks for "
                "%(least)s %%. Lay the pieces closer, into a corner or along an edge, or on a "
                "smaller stock piece."
            )
            % {"kept": int(kept), "least": least}
        )
    keep_as_judged(layout, found.figures, found.beside)


def keep_as_judged(layout: Layout, figures: Worth, beside: Worth, **more: Any) -> None:
    """Store that the layout is handed in, with what the judge said of it, and `more` fields.

    Raises Refused where somebody has moved its pieces since: what nobody has judged is not in.
    """
    fields = more | {
        "figures": kept_of(layout) | figures,
        "beside": beside,
        "handed_in_at": layout.handed_in_at or timezone.now(),
    }
    if not Layout.objects.filter(pk=layout.pk, version=layout.version).update(**fields):
        raise Refused(made_elsewhere())
    for name, value in fields.items():
        setattr(layout, name, value)


def _same_pattern(layout: Layout, pattern: Pattern, brief: Brief) -> None:
    """Raises Refused unless the layout's pieces are those of this version as it is now."""
    same = layout.pattern_id == pattern.pk
    if same:
        today = make_job([pattern], [], brief.course.school)
        same = not any(
            change.code in OF_THE_PATTERN for change in changes(layout.job | {"metal": []}, today)
        )
    if not same:
        raise Refused(
            gettext(
                "Your layout was laid for the pattern as it was before. Open it and press “Take "
                "today’s pattern, metal and rules”, then look at it once more."
            )
        )


def _same_metal(layout: Layout, project: Project) -> None:
    """Raises Refused unless the pieces lie on the metal that the project has now."""
    layout.project = project
    other = of_other_metal(layout)
    if any(placed.metal in other for placed in layout.laid):
        raise Refused(
            gettext(
                "Your layout lies on another metal than the one that you have chosen since. Open "
                "it and press “Take today’s pattern, metal and rules”, then lay it out once more."
            )
        )
