"""A student says what a line is; the drawing is made and checked again at once."""

from __future__ import annotations

from collections.abc import Mapping

from django.db import transaction

from classroom.models import User, record
from classroom.refusals import Refused
from inventory.models import Metal
from studio.core.correcting import Name
from studio.core.reading import GIVEN_LABELS, LABEL_WORDS
from studio.models import Pattern, Project
from studio.steps.layouts.trial import ask_soon

from .ahead import Ahead
from .correct import ahead_of, correct
from .revising import to_change
from .versions import OPEN_STATES

LABEL_CHOICES = [(str(label), LABEL_WORDS[label]) for label in GIVEN_LABELS]
__all__ = ["LABEL_CHOICES", "OPEN_STATES", "as_read", "change_metal", "relabel"]


def relabel(pattern: Pattern, labels: Mapping[str, str], *, acting: User) -> Pattern:
    """Name lines anew: line id to label, "" for "as it was read".

    Answers with the pattern that carries the names: the draft itself, or a new version when
    the teacher had returned it (the returned one keeps its remark). Raises Refused for lines
    and labels that do not exist, and when the pattern is no longer the student's to change.
    """
    _refuse_nonsense(pattern, labels)
    ahead = ahead_of(pattern, _named_anew(pattern, labels))
    with transaction.atomic():
        mine = to_change(pattern, acting=acting)
        return _change(mine, labels, ahead, acting=acting, text="named lines of")


def as_read(pattern: Pattern, *, acting: User) -> Pattern:
    """Undo every label the student gave. Answers and raises as `relabel` does."""
    ahead = ahead_of(pattern, _named_anew(pattern, dict.fromkeys(pattern.relabels, "")))
    with transaction.atomic():
        mine = to_change(pattern, acting=acting)
        wanted = dict.fromkeys(mine.relabels, "")
        return _change(mine, wanted, ahead, acting=acting, text="undid the line names of")


def change_metal(pattern: Pattern, metal: Metal, copies: int, *, acting: User) -> Pattern:
    """Choose another of the brief's metals, or another number of pieces.

    Answers with the draft that carries them, and raises, as `relabel` does.
    """
    with transaction.atomic():
        brief = pattern.project.brief
        if not brief.metals.filter(pk=metal.pk).exists():
            raise Refused("The brief does not allow that metal.")
        mine = to_change(pattern, acting=acting)
        Project.objects.filter(pk=mine.project_id).update(metal=metal)
        Pattern.objects.filter(pk=mine.pk).update(copies=copies)
        record(
            acting,
            "pattern-metal-chosen",
            mine.project,
            f"chose {metal} for pattern {mine.number}, {copies} of it",
            pattern=mine.pk,
        )
        ask_soon(mine)
        return mine


def _change(
    mine: Pattern, wanted: Mapping[str, str], ahead: Ahead | None, *, acting: User, text: str
) -> Pattern:
    changes = _named_anew(mine, wanted)
    if not changes:
        return mine
    words = f"{text} pattern {mine.number}"
    return correct(mine, changes, acting=acting, text=words, ahead=ahead)


def _named_anew(row: Pattern, wanted: Mapping[str, str]) -> list[Name]:
    """Says of these lines what they are ("" for as read), so that undo knows what they were."""
    other = {line: label for line, label in wanted.items() if row.relabels.get(line, "") != label}
    return [Name(tuple(other.items()))] if other else []


def _refuse_nonsense(pattern: Pattern, labels: Mapping[str, str]) -> None:
    known = {line.id for line in pattern.traced.lines}
    given = {str(label) for label in GIVEN_LABELS} | {""}
    for line, label in labels.items():
        if line not in known:
            raise Refused("That line is not in this pattern. Look at the newest one.")
        if label not in given:
            raise Refused("Choose what the line is from the list.")
