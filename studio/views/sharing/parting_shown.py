"""What the page of a stock piece that is parted shows."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from classroom.models import User
from studio.core.cutting.groups import group_of
from studio.core.picturing.plan import labels_of
from studio.models import CutPlan, PartEntry, StockSignOff, StockStep
from studio.prints.plans.parting_sheet import metals_to_part
from studio.steps.sharing.parting.correct_part import why_not_corrected
from studio.steps.sharing.parting.entries import entries_of
from studio.steps.sharing.parting.may_part import why_not_part

PICTURE_WIDTH_MM = 96.0


@dataclass(frozen=True, slots=True)
class EntryRow:
    """A part as it came out; `own_plan` is where its student goes on, for who may see it."""

    entry: PartEntry
    letter: str
    name: str
    own_plan: CutPlan | None
    may_correct: bool = False

    @property
    def remark(self) -> str:
        """What went wrong, in words; empty where nothing did."""
        cause = self.entry.cause
        if self.entry.kind == PartEntry.Kind.LOST:
            return _("Spoilt: %(cause)s") % {"cause": cause}
        if self.entry.kind == PartEntry.Kind.WRONG_CUT:
            return _("Cut wrong: %(cause)s") % {"cause": cause}
        return cause


@dataclass(frozen=True, slots=True)
class SignRow:
    """Who signed what and when; a classmate's name is left out."""

    words: str
    name: str
    at: dt.datetime


SIGNED = {
    StockSignOff.Kind.STARTED: gettext_noop("Started"),
    StockSignOff.Kind.DONE: gettext_noop("Signed as parted"),
}


def step_context(user: User, step: StockStep, language: str) -> dict[str, Any]:
    """The cuts, the words, who may and why not, and what came out; students read no names."""
    plan = step.plan_stock.plan
    code = step.plan_stock.stock_piece.code
    metals = metals_to_part(
        plan, user.school, names=user.is_teacher, picture_width_mm=PICTURE_WIDTH_MM
    )
    obstacles = [] if step.done_at is not None else why_not_part(step, user)
    letters = labels_of(plan.asked)
    return {
        "step": step,
        "plan": plan,
        "code": code,
        "title": step.title_in(language),
        "one": {"step": step, "words": step.words_in(language)},
        "metal": next(one for one in metals if one.code == code),
        "obstacles": obstacles,
        "may": not obstacles,
        "is_teacher": user.is_teacher,
        "entries": [
            row
            for row in _entries(user, plan, letters)
            if row.entry.plan_stock.stock_piece.code == code
        ],
        "sign_offs": _signed(user, step),
    }


def _signed(user: User, step: StockStep) -> list[SignRow]:
    rows = step.sign_offs.select_related("by").order_by("at", "pk")
    return [
        SignRow(
            _(SIGNED.get(StockSignOff.Kind(one.kind), one.get_kind_display())),
            str(one.by) if user.is_teacher or one.by.is_teacher or one.by_id == user.pk else "",
            one.at,
        )
        for one in rows
    ]


def _entries(user: User, plan: CutPlan, letters: Mapping[str, str]) -> list[EntryRow]:
    own = {
        share.project_id: one
        for one in plan.own_plans.prefetch_related("shares")
        for share in one.shares.all()
    }
    found = []
    for entry in entries_of(plan).select_related("share__project__seat__student"):
        share = entry.share
        if share is None:
            found.append(EntryRow(entry, "", "", None))
            continue
        project = share.project
        mine = user.is_teacher or project.seat.student_id == user.pk
        found.append(
            EntryRow(
                entry,
                letters[group_of(project.pk)],
                str(project.student) if mine else "",
                own.get(project.pk) if mine else None,
                not why_not_corrected(entry, user),
            )
        )
    return found
