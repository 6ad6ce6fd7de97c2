"""What the studio keeps of a student: their patterns, what they typed, and what waits for them.

The outline of what was sawn stays with its cut plan, because metal and money are reckoned from
it; so does a layout that a plan has taken. Everything else of a pattern goes: the file and the
picture of the paper, the lines as they were read, changes, names of lines, the recipe with its
lettering, surface lines, and other layouts.
"""

from __future__ import annotations

import logging
from collections.abc import Iterable
from dataclasses import replace
from functools import partial
from typing import Any, Final

from django.core.files.storage import Storage
from django.db import transaction
from django.db.models import Q, QuerySet
from django.utils import timezone
from django.utils.translation import gettext_noop

from classroom.erasing.names import is_shared, label_of, rewrite, without
from classroom.erasing.own import ERASED
from classroom.erasing.reach import Keeping, Searched
from classroom.models import User, subject_of
from classroom.refusals import Refused

from .core.drawing import Drawing
from .models import (
    BenchStep,
    Brief,
    BuilderDraft,
    CutPlan,
    Errand,
    Layout,
    MetalHolder,
    PartEntry,
    Pattern,
    PlanProject,
    PracticeTry,
    Project,
    Quote,
    Return,
    SignOff,
    StockSignOff,
    TrialLayout,
    UploadTally,
)
from .running.errands.files import drop
from .steps.patterns.sheet_picture import has_paper, paper_name

logger = logging.getLogger(__name__)

FILE_NAME: Final = "erased"
SEARCHED: Searched = {
    Brief: ("course__school", ("title", "text")),
    Project: ("seat__course__school", ("title",)),
    Pattern: ("project__seat__course__school", ("file_name", "remark")),
    Layout: ("owner__school", ("name",)),
    SignOff: ("step__project__seat__course__school", ("reason",)),
    StockSignOff: ("step__plan_stock__plan__course__school", ("reason",)),
    PartEntry: ("plan_stock__plan__course__school", ("cause",)),
    PlanProject: ("plan__course__school", ("left_out_why",)),
    MetalHolder: ("plan_stock__plan__course__school", ("reason",)),
    Return: ("plan__course__school", ("remark", "balance")),
}
OPEN: Final = (Pattern.State.DRAFT, Pattern.State.HANDED_IN, Pattern.State.RETURNED)
LIVE: Final = {
    CutPlan.State.PLACING: "Drop cut plan {plan}, which holds their pieces, or let it be placed "
    "without them.",
    CutPlan.State.PROPOSED: "Drop cut plan {plan}, which holds their pieces, or let it be placed "
    "without them.",
    CutPlan.State.APPROVED: "Drop cut plan {plan}, which reserves metal for them, or hand it out "
    "and bring it to its end.",
    CutPlan.State.ISSUED: "Metal of cut plan {plan} is in their hands: take it back and close the "
    "plan first.",
}


def speaks_against(student: User) -> Iterable[str]:
    plans = CutPlan.objects.filter(
        shares__project__seat__student=student, shares__live=True, state__in=LIVE
    )
    for pk, state in plans.distinct().order_by("pk").values_list("pk", "state"):
        yield LIVE[CutPlan.State(state)].format(plan=pk)


def goes(student: User) -> dict[str, int]:
    patterns = _patterns(student)
    errands = list(_errands(student))
    return {
        gettext_noop("pattern files"): len(_files(student)),
        gettext_noop("pictures of the paper"): sum(
            has_paper(one) for one in _one_for_each_file(student)
        ),
        gettext_noop("patterns read from them"): patterns.exclude(file_name=FILE_NAME).count(),
        gettext_noop("shapes that were being built"): BuilderDraft.objects.filter(
            project__seat__student=student
        ).count(),
        gettext_noop("layouts that no plan has taken"): _loose_layouts(student).count(),
        gettext_noop("titles of projects"): _projects(student).exclude(title="").count(),
        gettext_noop("remarks on patterns and reasons on steps"): patterns.exclude(
            remark=""
        ).count()
        + _reasons(student).count()
        + _causes(student).count(),
        gettext_noop("uploads and papers that wait"): len(errands),
        gettext_noop("days on which uploads were counted"): UploadTally.objects.filter(
            owner=student
        ).count(),
        gettext_noop("practice sheets begun"): PracticeTry.objects.filter(person=student).count(),
    }


def stays(student: User) -> dict[str, int]:
    projects = _projects(student)
    return {
        gettext_noop("projects"): projects.count(),
        gettext_noop("outlines of what was sawn"): len(_sawn(student)),
        gettext_noop("layouts that a plan has taken"): _layouts(student)
        .filter(plan_shares__isnull=False)
        .distinct()
        .count(),
        gettext_noop("prices"): Quote.objects.filter(project__in=projects).count(),
        gettext_noop("bench steps"): BenchStep.objects.filter(project__in=projects).count(),
        gettext_noop("sign-offs"): SignOff.objects.filter(
            Q(step__project__in=projects) | Q(by=student)
        ).count(),
    }


def words(student: User) -> Iterable[str]:
    """Titles and file names, whole and without their ending."""
    yield from _projects(student).values_list("title", flat=True)
    for name in _patterns(student).values_list("file_name", flat=True):
        yield name
        yield name.rpartition(".")[0]
    yield from _patterns(student).values_list("sha256", flat=True)


def subjects(student: User) -> Iterable[str]:
    for project in _projects(student):
        yield subject_of(project)
    for pattern in _patterns(student).only("pk"):
        yield subject_of(pattern)
    for share in _shares(student).select_related("plan").only("plan_id", "plan__id"):
        yield subject_of(share.plan)


def erase(student: User) -> None:
    """Raises Refused where a plan took the student's pieces at this very moment."""
    held = _projects(student).select_for_update(of=("self",)).order_by("pk")
    mine = [project.pk for project in held]
    for sentence in speaks_against(student):
        raise Refused(sentence)
    files = [(one.file.storage, str(one.file.name)) for one in _one_for_each_file(student)]
    sawn = _sawn(student)
    TrialLayout.objects.filter(Q(pattern__project__in=mine) | Q(layout__project__in=mine)).delete()
    _loose_layouts(student).delete()
    # What a plan has taken stays with it, as its outlines do; how it came about goes.
    Layout.objects.filter(project__in=mine).update(name="", past=[], future=[], last_key="")
    for pattern in _patterns(student):
        rewrite(pattern, _emptied(pattern, pattern.pk in sawn))
    Pattern.objects.filter(project__in=mine, state__in=OPEN).update(state=Pattern.State.ASIDE)
    for row in _reasons(student):
        rewrite(row, {"reason": ERASED})
    for entry in _causes(student):
        rewrite(entry, {"cause": ERASED})
    BuilderDraft.objects.filter(project__in=mine).delete()
    projects = Project.objects.filter(pk__in=mine)
    projects.update(title="")
    projects.exclude(stage=Project.Stage.CLOSED).update(
        stage=Project.Stage.CLOSED, stage_since=timezone.now()
    )
    for errand in _errands(student):
        names = errand.file.name, errand.result.name
        Errand.objects.filter(pk=errand.pk).delete()
        transaction.on_commit(partial(drop, *names))
    UploadTally.objects.filter(owner=student).delete()
    _empty_shares(student)
    PracticeTry.objects.filter(person=student).delete()
    transaction.on_commit(lambda: _remove(files))


def _emptied(pattern: Pattern, sawn: bool) -> dict[str, Any]:
    outlines = tuple(
        replace(piece, surface_lines=()) for piece in (pattern.drawing.pieces if sawn else ())
    )
    tracing = pattern.tracing
    return {
        "file": "",
        "file_name": FILE_NAME,
        "sha256": "",
        "tracing": tracing | {"lines": [], "findings": []} if tracing else tracing,
        "relabels": {},
        "changes": [],
        "recipe": None,
        "drawing_json": Drawing(outlines).to_json(),
        "findings_json": [],
        "remark": "",
        "mark": None,
    }


def _remove(files: Iterable[tuple[Storage, str]]) -> None:
    for store, name in files:
        for each in (name, paper_name(name)):
            try:
                store.delete(each)
            except OSError:
                logger.exception("an erased pattern's file could not be removed: %s", each)


def _projects(student: User) -> QuerySet[Project]:
    return Project.objects.filter(seat__student=student)


def _patterns(student: User) -> QuerySet[Pattern]:
    return Pattern.objects.filter(project__seat__student=student)


def _layouts(student: User) -> QuerySet[Layout]:
    """Tries at their projects, nudged ones too."""
    return Layout.objects.filter(project__seat__student=student)


def _loose_layouts(student: User) -> QuerySet[Layout]:
    return _layouts(student).filter(plan_shares__isnull=True)


def _shares(student: User) -> QuerySet[PlanProject]:
    return PlanProject.objects.filter(project__seat__student=student)


def _sawn(student: User) -> set[int]:
    """Patterns whose pieces were sawn out: those of plans that were closed."""
    closed = _shares(student).filter(plan__state=CutPlan.State.CLOSED)
    return set(closed.values_list("pattern", flat=True))


def _one_for_each_file(student: User) -> list[Pattern]:
    """Versions share a file where the student only corrected it."""
    by_file = {str(one.file.name): one for one in _patterns(student).only("file").exclude(file="")}
    return list(by_file.values())


def _files(student: User) -> list[Pattern]:
    return [
        one for one in _one_for_each_file(student) if one.file.storage.exists(str(one.file.name))
    ]


def _reasons(student: User) -> QuerySet[SignOff]:
    written = SignOff._base_manager.filter(Q(step__project__seat__student=student) | Q(by=student))
    return written.exclude(reason__in=["", ERASED])


def _empty_shares(student: User) -> None:
    """Why others stuck the student's papers on, why shared metal went to the student, and why the
    student was left out: often that somebody was ill."""
    for share in _shares(student):
        for row in (*share.stuck.exclude(reason=""), *share.held.exclude(reason="")):
            rewrite(row, {"reason": ERASED})
        if share.left_out_why:
            rewrite(share, {"left_out_why": ERASED})


def _causes(student: User) -> QuerySet[PartEntry]:
    """Why parts of shared metal were cut wrong or spoilt: theirs, or written by them."""
    written = PartEntry._base_manager.filter(
        Q(share__project__seat__student=student) | Q(by=student)
    )
    return written.exclude(cause__in=["", ERASED])


def _errands(student: User) -> QuerySet[Errand]:
    """What the student waits for, and papers about them that others asked for.

    A title that says the name makes a paper theirs only where nobody else bears the name.
    """
    about = [*subjects(student), subject_of(student)]
    about += [subject_of(seat) for seat in student.seats.all()]
    rows = Errand.objects.filter(owner__school=student.school_id)
    own = Q(owner=student) | Q(about__in=about)
    if not is_shared(student):
        names = {student.display_name: label_of(student)}
        titles = rows.filter(title__icontains=student.display_name).values_list("pk", "title")
        own |= Q(pk__in=[pk for pk, said in titles if without(said, names, any_case=True) != said])
    return rows.filter(own)


def kept() -> Keeping:
    return Keeping(
        SEARCHED,
        speaks_against=speaks_against,
        goes=goes,
        stays=stays,
        words=words,
        subjects=subjects,
        erase=erase,
    )
