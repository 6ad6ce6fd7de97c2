"""Several tries of one project or plan stand side by side: copied, named, chosen, deleted."""

from __future__ import annotations

from django.db import transaction
from django.db.models import F, QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _

from classroom.models import User, record
from classroom.refusals import Refused
from studio.models import Layout, PlanProject, Project

from .begin import add_try, begin, begin_from_plan
from .change import deleted_meanwhile
from .may_lay import why_closed, why_no_tries, why_not_theirs, why_plan_is_fixed
from .stock import RECTANGLES

NAME_LENGTH = 60


def name_of(layout: Layout) -> str:
    """What people call it: its own name, else its number. What a search is called is kept in the
    language of whoever asked for it."""
    if layout.name and layout.origin == Layout.Origin.SERVER:
        return _(layout.name)
    return layout.name or _("Try %(number)s") % {"number": layout.number}


def new(layout: Layout, *, acting: User, name: str = "") -> Layout:
    """One more try beside this one: an empty one, or for a plan one that begins as it lies."""
    if layout.plan is not None:
        return begin_from_plan(layout.plan, acting=acting)
    assert layout.project is not None
    return begin(layout.project, acting=acting, name=name)


def copy(layout: Layout, *, acting: User, name: str = "") -> Layout:
    """A try of one's own that begins as this one lies. Its steps begin anew.

    Raises Refused where nothing can be laid out any more, or tries are too many.
    """
    if layout.plan is not None:
        why = why_plan_is_fixed(layout.plan)
    else:
        assert layout.project is not None
        why = why_no_tries(layout.project, acting)
    if why:
        raise Refused(why)
    called = name.strip() or _("Copy of %(name)s") % {"name": name_of(layout)}
    rectangles = layout.figures.get(RECTANGLES, {})
    with transaction.atomic():
        return add_try(
            layout.job,
            acting=acting,
            project=layout.project,
            plan=layout.plan,
            pattern=layout.pattern,
            placements=layout.placements,
            cuts=layout.cuts,
            name=called,
            pinned=layout.pinned,
            figures={RECTANGLES: rectangles} if rectangles else {},
        )


def rename(layout: Layout, *, acting: User, name: str) -> Layout:
    """Give it another name; none at all brings its number back."""
    _require_own(layout, acting)
    layout.name = " ".join(name.split())[:NAME_LENGTH]
    if not Layout.objects.filter(pk=layout.pk).update(name=layout.name):
        raise Refused(deleted_meanwhile())
    return layout


def choose(layout: Layout, *, acting: User) -> Layout:
    """From now on this try counts for the project; the one before it does not any more."""
    project = layout.project
    if project is None:
        raise Refused(
            _("Only a student's own layout is chosen. Use this one for the plan instead.")
        )
    if why := why_no_tries(project, acting):
        raise Refused(why)
    if acting.is_teacher and layout.owner_id != acting.pk:
        raise Refused(_("Which of the tries counts is the student's to say."))
    with transaction.atomic():
        project.__class__.objects.select_for_update(no_key=True).get(pk=project.pk)
        tries = Layout.objects.filter(project=project)
        if tries.handed_in().exclude(pk=layout.pk).filter(chosen=True).exists():
            raise Refused(_("A layout is handed in. Take the pattern back first."))
        if tries.filter(pk=layout.pk, chosen=True).exists():
            return layout
        tries.filter(chosen=True).update(chosen=False)
        _let_count(tries, layout.pk)
        record(acting, "layout-chosen", project, f"chose layout {layout.number}", layout=layout.pk)
    layout.chosen = True
    return layout


def drop(layout: Layout, *, acting: User) -> None:
    """Delete a try for good; if it was the one that counts, the student's newest counts now.

    Raises Refused where it is handed in, or a plan has taken it.
    """
    _require_own(layout, acting)
    subject = layout.project if layout.project is not None else layout.plan
    assert subject is not None
    with transaction.atomic():
        if PlanProject.objects.filter(layout=layout).exists():
            raise Refused(_("A cut plan has taken this try, so it is kept."))
        gone, _rows = Layout.objects.filter(pk=layout.pk, handed_in_at=None).delete()
        if not gone and Layout.objects.filter(pk=layout.pk).exists():
            raise Refused(_("This layout is handed in, so it is kept."))
        if not gone:
            raise Refused(deleted_meanwhile())
        if layout.project is not None:
            _let_one_count(layout.project)
        record(
            acting, "layout-deleted", subject, f"deleted layout {layout.number}", layout=layout.pk
        )


def _let_one_count(project: Project) -> None:
    """Where none of the project's tries counts, the student's own that was handed in, or else the
    newest, does."""
    Project.objects.select_for_update(no_key=True).get(pk=project.pk)
    tries = Layout.objects.filter(project=project)
    if tries.filter(chosen=True).exists():
        return
    own = tries.filter(owner=project.student)
    newest = own.order_by(F("handed_in_at").desc(nulls_last=True), "-number").first()
    if newest is not None:
        _let_count(tries, newest.pk)


def _let_count(tries: QuerySet[Layout], pk: int) -> None:
    """Another layout than before is a change of what a pattern is handed in with."""
    tries.filter(pk=pk).update(chosen=True, changed_at=timezone.now())


def _require_own(layout: Layout, acting: User) -> None:
    if why := why_not_theirs(layout, acting) or why_closed(layout, acting):
        raise Refused(why)
