"""One named student, erased because somebody asked for it.

More goes than by date: what the student brought and typed, and what was written about their work.
Every other free text of the school is searched for the name, the user name and the spellings
that the person who erases knows of. Metal, money, permits and sign-offs stay, under the label.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final

from django.conf import settings
from django.db import transaction
from django.db.models import Max
from django.utils import timezone
from django.utils.translation import gettext_noop

from classroom.models import Erasure, History, School, User
from classroom.refusals import Refused

from .names import label_of, may_erase, names_of, rewrite, scrub_rows, take_name, without
from .own import ERASED
from .reach import keepings

FREE_TEXT: Final = ("why", "reason", "remark", "in_spite_of")
"""Keys under which the diary repeats what somebody typed."""
LEAST_SPELLING: Final = 3
LEAST_ID: Final = 6
"""A shorter class list id may be any number in a text."""
MOST_SPELLINGS: Final = 6
A_TEXT: Final = "(erased)"


@dataclass(frozen=True, slots=True)
class Request:
    """Who asked, when, and other spellings of the name to be looked for."""

    asked_by: str
    asked_on: dt.date
    remark: str = ""
    spellings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Seen:
    """What would go and what would stay, with how many of each, and what speaks against it."""

    goes: Mapping[str, int]
    stays: Mapping[str, int]
    against: tuple[str, ...]
    backup_days: int


def look_at(student: User) -> Seen:
    """Only kinds of which there is any."""
    return Seen(
        goes={what: count for one in keepings.values() for what, count in _some(one.goes(student))},
        stays={
            what: count for one in keepings.values() for what, count in _some(one.stays(student))
        },
        against=tuple(_against(student)),
        backup_days=backup_days(),
    )


def backup_days() -> int:
    """How long a backup made today may be kept: the last of the weekly ones."""
    return max(int(settings.BACKUP_DAYS), 7 * int(settings.BACKUP_WEEKS))


@transaction.atomic
def erase_on_request(student: User, asked: Request, *, typed: str, acting: User) -> Erasure:
    """Erase the student, and write down what went, without the name.

    `typed` has to be the name or the user name. Raises Refused for anybody but who keeps the
    school, for one who is erased already, and while metal or a plan is with the student.
    """
    may_erase(student.school, acting)
    School.objects.select_for_update(no_key=True).get(pk=student.school_id)
    student = User.objects.select_for_update(no_key=True).get(pk=student.pk)
    if not student.is_student:
        raise Refused("Only a student's name can be erased. A teacher's account can be closed.")
    if hasattr(student, "erasure"):
        raise Refused("This student's name is erased already.")
    if _plain(typed) not in (_plain(student.display_name), _plain(student.username)):
        raise Refused("That is not the name. Type the name or the user name as it stands above.")
    against = list(_against(student))
    if against:
        raise Refused(" ".join(against))
    if asked.asked_on > timezone.localdate():
        raise Refused("The day on which it was asked for lies in the future.")
    seen = look_at(student)
    names = _everywhere(student, asked.spellings)
    own = names | {student.display_name: label_of(student)}
    texts = {word: A_TEXT for one in keepings.values() for word in one.words(student) if word}
    subjects = {name for one in keepings.values() for name in one.subjects(student)}
    last = student.seats.aggregate(last=Max("course__ends_on"))["last"]
    for one in keepings.values():
        one.erase(student)
    changed = _search(student.school, names)
    changed += _search_diary(student, names, texts | own, subjects)
    goes = dict(seen.goes)
    if changed:
        goes[gettext_noop("texts and records of what happened that named them")] = changed
    made = Erasure.objects.create(
        student=student,
        kind=Erasure.Kind.ON_REQUEST,
        last_course_ended=last,
        done_by=acting,
        asked_by=asked.asked_by,
        asked_on=asked.asked_on,
        remark=without(asked.remark.strip(), own, any_case=True)[:200],
        erased=goes,
        kept=dict(seen.stays),
    )
    take_name(student, acting=acting)
    return made


def _against(student: User) -> Iterable[str]:
    for one in keepings.values():
        yield from one.speaks_against(student)


def _everywhere(student: User, spellings: Iterable[str]) -> dict[str, str]:
    """What takes the place of each name in any text of the school."""
    names = names_of(student)
    if len(student.roster_id) >= LEAST_ID:
        names[student.roster_id] = ERASED
    for spelling in list(spellings)[:MOST_SPELLINGS]:
        word = " ".join(spelling.split())
        if len(word) < LEAST_SPELLING:
            raise Refused(
                f"“{word}” is too short to be looked for in every text: give at least "
                f"{LEAST_SPELLING} letters."
            )
        names[word] = label_of(student)
    return names


def _search(school: School, names: Mapping[str, str]) -> int:
    """The names' places taken in every free text of the school but the diary."""
    changed = 0
    for one in keepings.values():
        for model, (home, fields) in one.searched.items():
            rows = model._base_manager.filter(**{home: school}).only("pk", *fields)
            changed += scrub_rows(rows.iterator(), fields, names)
    return changed


def _search_diary(
    student: User, names: Mapping[str, str], own: Mapping[str, str], subjects: set[str]
) -> int:
    """The same in the diary. Rows about the student's things, and what they did themselves, lose
    titles, file names and typed reasons too."""
    changed = 0
    rows = History._base_manager.filter(school=student.school_id)
    for row in rows.only("pk", "text", "detail", "subject", "actor_id").iterator():
        theirs = row.subject in subjects or row.actor_id == student.pk
        words = own if theirs else names
        detail = without(row.detail, words, any_case=True)
        if theirs:
            detail = {
                key: ERASED if key in FREE_TEXT and value else value
                for key, value in detail.items()
            }
        text = without(row.text, words, any_case=True)
        changed += rewrite(row, {"text": text, "detail": detail})
    return changed


def _some(counts: Mapping[str, int]) -> list[tuple[str, int]]:
    return [(what, count) for what, count in counts.items() if count]


def _plain(name: str) -> str:
    return " ".join(name.split()).casefold()
