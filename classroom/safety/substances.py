"""Substances of a school: what to be careful about, and the data sheet that says more."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone

from classroom.languages import known
from classroom.models import School, Substance, Topic, User, record
from classroom.refusals import Refused

from . import data_sheets
from .topic_texts.substances import SUBSTANCES


@dataclass(frozen=True, slots=True)
class SubstanceShown:
    """A substance in the language that is asked for; `language` is the one that was found."""

    substance: Substance
    title: str
    cautions: Sequence[str]
    language: str


def seed_substances(school: School) -> None:
    """Give a school without substances those of the house."""
    if Substance.objects.filter(school=school).exists():
        return
    own = known(school.language)
    topics = {topic.code: topic for topic in Topic.objects.filter(school=school)}
    for codes, words in SUBSTANCES:
        made, is_new = Substance.objects.get_or_create(
            school=school,
            title=words[own].title,
            defaults={
                "cautions": list(words[own].cautions),
                "language": own,
                "translations": {
                    language: {"title": text.title, "cautions": list(text.cautions)}
                    for language, text in words.items()
                    if language != own
                },
            },
        )
        if is_new:
            made.topics.set(topics[code] for code in codes if code in topics)


def shown(substances: Iterable[Substance], language: str) -> list[SubstanceShown]:
    rows = []
    for one in substances:
        words = one.translations.get(language) if language != one.language else None
        if words and words.get("title") and words.get("cautions"):
            rows.append(SubstanceShown(one, words["title"], words["cautions"], language))
        else:
            rows.append(SubstanceShown(one, one.title, one.cautions, one.language))
    return rows


def shown_with(school: School, codes: Iterable[str], language: str) -> list[SubstanceShown]:
    """The substances that belong to any of the topics (by code); one query."""
    found = Substance.objects.filter(
        school=school, retired_at=None, topics__code__in=list(codes)
    ).distinct()
    return shown(found, language)


def save_substance(
    substance: Substance | None,
    fields: dict[str, Any],
    *,
    topics: Iterable[Topic],
    sheet: tuple[str, bytes] | None,
    seen_version: int,
    acting: User,
) -> Substance:
    """Add or change a substance; `fields` has title, cautions, translations and sheet_link.

    Raises Refused when the title is taken or another teacher was first (`seen_version`).
    """
    try:
        with transaction.atomic():
            if substance is None:
                one = Substance.objects.create(
                    school=acting.school, language=known(acting.school.language), **fields
                )
            else:
                changed = Substance.objects.filter(pk=substance.pk, version=seen_version).update(
                    **fields, version=seen_version + 1
                )
                if not changed:
                    raise Refused(
                        "Somebody else has changed this substance since you opened it. Copy your "
                        "text and open it again."
                    )
                one = Substance.objects.get(pk=substance.pk)
            one.topics.set(topics)
            if sheet is not None:
                name, data = sheet
                one.sheet_sha = data_sheets.keep_sheet(one, data)
                one.sheet_name = name
                one.sheet_added_at = timezone.now()
                one.save(update_fields=["sheet_sha", "sheet_name", "sheet_added_at"])
            record(
                acting,
                "save-substance",
                one,
                f"Substance “{one.title}” {'added' if substance is None else 'changed'}",
                sheet=one.sheet_sha,
                before=None
                if substance is None
                else {"title": substance.title, "cautions": substance.cautions},
            )
    except IntegrityError as error:
        raise Refused("There is a substance of that name already. Change that one.") from error
    return one


@transaction.atomic
def set_aside(substance: Substance, aside: bool, *, acting: User) -> None:
    """No longer used here (or used again); a repeat changes nothing."""
    at = timezone.now() if aside else None
    rows = Substance.objects.filter(pk=substance.pk, retired_at__isnull=aside)
    if rows.update(retired_at=at):
        word = "out of use" if aside else "in use again"
        record(acting, "set-aside-substance", substance, f"Substance “{substance.title}” {word}")
