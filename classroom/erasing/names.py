"""The label that takes a name's place, and how it does: on the person's row and in texts."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django.db import models

from classroom.models import History, School, User, record
from classroom.refusals import Refused
from classroom.signin.slowing import forget_account

LABEL = "Former student"


def label_of(student: User) -> str:
    return f"{LABEL} {student.pk}"


def may_erase(school: School, acting: User) -> None:
    """Raises Refused for anybody but who keeps the school."""
    if acting.school_id != school.pk or not acting.keeps_school:
        raise Refused("Names are erased by those who look after the school's settings.")


def take_name(student: User, *, acting: User | None) -> None:
    """The label on the person's own row. Nobody can sign in with it, and who is signed in with
    the old passphrase is signed out at the next step."""
    forget_account(student.username)
    student.display_name = label_of(student)
    student.username = f"former-{student.pk}.{student.school_id}"
    student.roster_id = ""
    student.language = ""
    student.is_active = False
    student.set_unusable_password()
    student.save()
    record(acting, "erase-name", student, f"Name of {student} erased", school=student.school)


def names_of(student: User) -> dict[str, str]:
    """What takes the place of each of the student's names, anywhere in the school: the name
    itself only where nobody else bears it too."""
    names = {student.username: f"former-{student.pk}"}
    if not is_shared(student):
        names[student.display_name] = label_of(student)
    return names


def is_shared(student: User) -> bool:
    others = User.objects.filter(school=student.school_id, display_name=student.display_name)
    return others.exclude(pk=student.pk).exists()


def scrub_diary(school: School, students: Sequence[User]) -> None:
    """Put the label in the place of each name in the diary's words.

    A name that somebody else in the school bears too is replaced only where the row is about
    this student or was done by them.
    """
    names: dict[str, str] = {}
    for student in students:
        names |= names_of(student)
    own = {student.pk: {student.display_name: label_of(student), **names} for student in students}
    seats = {f"seat:{seat.pk}": student.pk for student in students for seat in student.seats.all()}
    rows = History._base_manager.filter(school=school)
    for row in rows.only("pk", "text", "detail", "subject", "actor_id").iterator():
        kind, _, number = row.subject.partition(":")
        whose = int(number) if kind == "user" and number.isdigit() else seats.get(row.subject)
        words = own.get(whose or 0) or own.get(row.actor_id or 0) or names
        rewrite(row, {"text": without(row.text, words), "detail": without(row.detail, words)})


def scrub_rows(
    rows: Iterable[models.Model], fields: Sequence[str], names: Mapping[str, str]
) -> int:
    """The names' places taken in these fields of these rows; how many rows were changed."""
    return sum(
        rewrite(row, {name: without(getattr(row, name), names, any_case=True) for name in fields})
        for row in rows
    )


def rewrite(row: models.Model, values: Mapping[str, Any]) -> bool:
    """Write what differs, append-only or not; texts are cut to their field's length."""
    changed = {}
    for name, value in values.items():
        if value == getattr(row, name):
            continue
        longest = getattr(row._meta.get_field(name), "max_length", None)
        changed[name] = value[:longest] if isinstance(value, str) else value
    if changed:
        type(row)._base_manager.filter(pk=row.pk).update(**changed)
    return bool(changed)


def without(said: Any, names: Mapping[str, str], *, any_case: bool = False) -> Any:
    """`said` (text, or JSON made of it) with the labels in the names' places."""
    names = {name: label for name, label in names.items() if name}
    if not names:
        return said
    if isinstance(said, str):
        longest_first = sorted(names, key=len, reverse=True)
        pattern = "|".join(re.escape(name) for name in longest_first)
        folded = {name.casefold(): label for name, label in names.items()}

        def label(found: re.Match[str]) -> str:
            return names.get(found[0]) or folded.get(found[0].casefold(), LABEL)

        flags = re.IGNORECASE if any_case else 0
        return re.sub(rf"(?<!\w)(?:{pattern})(?!\w)", label, said, flags=flags)
    if isinstance(said, list):
        return [without(one, names, any_case=any_case) for one in said]
    if isinstance(said, dict):
        return {
            without(key, names, any_case=any_case): without(one, names, any_case=any_case)
            for key, one in said.items()
        }
    return said
