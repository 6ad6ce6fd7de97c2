"""The school's safety topics: a copy of the house's own texts that teachers reword."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone
from django.utils.text import slugify

from . import safety_texts
from .models import School, Topic, User, record
from .refusals import Refused

DAYS_MOST = 1826


@dataclass(frozen=True, slots=True)
class Wording:
    """What a topic says. `lesson` and `checks` are lines; `valid_days` is a permit's life."""

    title: str
    lesson: Sequence[str]
    checks: Sequence[str]
    valid_days: int


def seed_topics(school: School) -> None:
    """Give the school every topic of the house that it does not have yet; harmless to repeat."""
    Topic.objects.bulk_create(
        [
            Topic(
                school=school,
                code=text.code,
                title=text.title,
                lesson=[text.why, *text.lessons],
                checks=[line.text for line in text.practical_check],
                valid_days=text.renew_after_days,
            )
            for text in safety_texts.TOPICS
        ],
        ignore_conflicts=True,
    )


@transaction.atomic
def add_topic(wording: Wording, *, acting: User) -> Topic:
    """A topic of the school's own; raises Refused when its title is taken."""
    code = slugify(wording.title)[:40] or "topic"
    topic, made = Topic.objects.get_or_create(
        school=acting.school, code=code, defaults=_fields(wording)
    )
    if not made:
        raise Refused(f"There is a topic “{topic.title}” already. Change that one.")
    record(acting, "add-topic", topic, f"Safety topic “{topic.title}” added")
    return topic


@transaction.atomic
def reword(topic: Topic, wording: Wording, *, seen_version: int, acting: User) -> Topic:
    """Give the topic a new wording and version number; the old wording stays in the history.

    Permits given for an older version stay in force until they end. Raises Refused when another
    teacher has changed the topic since the form was opened (`seen_version`).
    """
    before = Topic.objects.get(pk=topic.pk)
    new = _fields(wording)
    if all(getattr(before, name) == value for name, value in new.items()):
        return before
    changed = Topic.objects.filter(pk=topic.pk, version=seen_version).update(
        **new, version=seen_version + 1
    )
    if not changed:
        raise Refused(
            "Somebody else has changed this topic since you opened it. Copy your text, "
            "open the topic again and put your change into the new wording."
        )
    record(
        acting,
        "reword-topic",
        topic,
        f"Safety topic “{wording.title}” reworded, version {seen_version + 1}",
        before={name: getattr(before, name) for name in new} | {"version": before.version},
    )
    return Topic.objects.get(pk=topic.pk)


@transaction.atomic
def retire(topic: Topic, *, acting: User) -> None:
    """Ask no permit for this topic any more; permits already given stay on record."""
    if Topic.objects.filter(pk=topic.pk, retired_at=None).update(retired_at=timezone.now()):
        record(acting, "retire-topic", topic, f"Safety topic “{topic.title}” set aside")


@transaction.atomic
def bring_back(topic: Topic, *, acting: User) -> None:
    if Topic.objects.filter(pk=topic.pk, retired_at__isnull=False).update(retired_at=None):
        record(acting, "bring-back-topic", topic, f"Safety topic “{topic.title}” asked for again")


def _fields(wording: Wording) -> dict[str, object]:
    return {
        "title": wording.title,
        "lesson": list(wording.lesson),
        "checks": list(wording.checks),
        "valid_days": wording.valid_days,
    }
