"""The school's safety topics: a copy of the house's own texts that teachers reword.

A changed wording is a new version. Every wording, in every language, stays as a row of
`TopicWording`; attempts at the questions and permits name the one that they were given for.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone
from django.utils.text import slugify

from classroom.languages import LANGUAGES, known
from classroom.models import School, Topic, TopicWording, User, record
from classroom.refusals import Refused

from . import topic_texts
from .substances import seed_substances

DAYS_MOST = 1826
WORDS = ("title", "lesson", "checks", "questions")
SOMEBODY_REWORDED = (
    "Somebody else has changed this topic since you opened it. Copy your text, "
    "open the topic again and put your change into the new wording."
)


@dataclass(frozen=True, slots=True)
class Wording:
    """What a topic says. `lesson` and `checks` are lines; `valid_days` is a permit's life.

    `questions` are dicts with text, right, wrong (a list) and why; None leaves them alone.
    """

    title: str
    lesson: Sequence[str]
    checks: Sequence[str]
    valid_days: int
    questions: Sequence[dict[str, Any]] | None = None
    asks_questions: bool | None = None


def seed_topics(school: School) -> None:
    """Give the school every topic of the house that it does not have yet; harmless to repeat.

    The school's language is the topic's own; the other languages come as translations.
    """
    own = known(school.language)
    had = set(Topic.objects.filter(school=school).values_list("code", flat=True))
    words = {
        language: {text.code: text for text in topic_texts.words_in(language)}
        for language in LANGUAGES
    }
    new = {code: text for code, text in words[own].items() if code not in had}
    if not new:
        return
    Topic.objects.bulk_create(
        [
            Topic(
                school=school,
                code=code,
                language=own,
                valid_days=text.valid_days,
                **_stored(text),
            )
            for code, text in new.items()
        ],
        ignore_conflicts=True,
    )
    TopicWording.objects.bulk_create(
        [
            TopicWording(
                topic=topic,
                language=language,
                number=1,
                version=1,
                **_stored(words[language][topic.code]),
            )
            for topic in Topic.objects.filter(school=school, code__in=new, version=1)
            for language in LANGUAGES
        ],
        ignore_conflicts=True,
    )
    seed_substances(school)


@transaction.atomic
def add_topic(wording: Wording, *, acting: User) -> Topic:
    """A topic of the school's own; raises Refused when its title is taken."""
    code = slugify(wording.title)[:40] or "topic"
    topic, made = Topic.objects.get_or_create(
        school=acting.school,
        code=code,
        defaults={**_fields(wording), "language": known(acting.school.language)},
    )
    if not made:
        raise Refused(f"There is a topic “{topic.title}” already. Change that one.")
    _keep(topic, acting)
    record(acting, "add-topic", topic, f"Safety topic “{topic.title}” added")
    return topic


@transaction.atomic
def reword(topic: Topic, wording: Wording, *, seen_version: int, acting: User) -> Topic:
    """Give the topic a new wording and version number; the old wording stays on record.

    How long permits last, and whether questions are asked, change no version. Permits given for
    an older version stay in force until they end. Raises Refused when another teacher has
    changed the topic since the form was opened (`seen_version`).
    """
    before = Topic.objects.get(pk=topic.pk)
    new = {
        name: value for name, value in _fields(wording).items() if getattr(before, name) != value
    }
    if not new:
        return before
    reworded = any(name in WORDS for name in new)
    if reworded and not before.wordings.filter(version=before.version).exists():
        _keep(before, None)
    changed = Topic.objects.filter(pk=topic.pk, version=seen_version).update(
        **new, version=seen_version + reworded
    )
    if not changed:
        raise Refused(SOMEBODY_REWORDED)
    after = Topic.objects.get(pk=topic.pk)
    if reworded:
        _keep(after, acting)
    said = f"reworded, version {after.version}" if reworded else "changed"
    record(
        acting,
        "reword-topic",
        topic,
        f"Safety topic “{after.title}” {said}",
        before={name: getattr(before, name) for name in ("title", "lesson", "checks", "valid_days")}
        | {"version": before.version},
    )
    return after


def translate(
    topic: Topic, language: str, words: dict[str, Any], *, seen: int, acting: User
) -> TopicWording:
    """Keep a translation of the topic's present version; `seen` numbers the one it replaces.

    `words` has title, lesson, checks and questions. Raises Refused for the topic's own language
    and when another teacher was first.
    """
    if language not in LANGUAGES or language == topic.language:
        raise Refused("That is no language to translate this topic into.")
    try:
        with transaction.atomic():
            now = Topic.objects.get(pk=topic.pk)
            latest = now.wordings.filter(language=language).last()
            if (latest.number if latest else 0) != seen:
                raise Refused(SOMEBODY_REWORDED)
            same = latest and all(getattr(latest, name) == words[name] for name in WORDS)
            if latest and same and latest.version == now.version:
                return latest
            made = TopicWording.objects.create(
                topic=now,
                language=language,
                number=seen + 1,
                version=now.version,
                made_by=acting,
                **{name: words[name] for name in WORDS},
            )
            record(
                acting,
                "translate-topic",
                now,
                f"Safety topic “{now.title}” put into {LANGUAGES[language]}",
                wording=made.pk,
            )
    except IntegrityError as error:
        raise Refused(SOMEBODY_REWORDED) from error
    return made


def wordings_for(topics: Iterable[Topic], language: str) -> dict[int, TopicWording]:
    """What each topic (by id) says now, in the language where it is translated; one query.

    A translation of an older version is passed over for the topic's own, newer words.
    """
    topics = list(topics)
    found = {topic.pk: _unsaved(topic) for topic in topics}
    versions = {topic.pk: topic.version for topic in topics if topic.language != language}
    rows = TopicWording.objects.filter(topic__in=versions, language=language)
    for row in rows.order_by("number", "pk"):
        if row.version == versions[row.topic_id]:
            found[row.topic_id] = row
    return found


def wording_for(topic: Topic, language: str) -> TopicWording:
    return wordings_for([topic], language)[topic.pk]


def stored_wording(topic: Topic, language: str) -> TopicWording:
    """The present wording as a row, kept now if nobody has kept it yet."""
    wording = wording_for(topic, language)
    if wording.pk is not None:
        return wording
    kept = topic.wordings.filter(language=topic.language, version=topic.version).last()
    if kept is None or any(getattr(kept, name) != getattr(topic, name) for name in WORDS):
        kept = _keep(topic, None)
    return kept


@transaction.atomic
def retire(topic: Topic, *, acting: User) -> None:
    """Ask no permit for this topic any more; permits already given stay on record."""
    if Topic.objects.filter(pk=topic.pk, retired_at=None).update(retired_at=timezone.now()):
        record(acting, "retire-topic", topic, f"Safety topic “{topic.title}” taken out of use")


@transaction.atomic
def bring_back(topic: Topic, *, acting: User) -> None:
    if Topic.objects.filter(pk=topic.pk, retired_at__isnull=False).update(retired_at=None):
        record(acting, "bring-back-topic", topic, f"Safety topic “{topic.title}” asked for again")


def _fields(wording: Wording) -> dict[str, Any]:
    fields: dict[str, Any] = {
        "title": wording.title,
        "lesson": list(wording.lesson),
        "checks": list(wording.checks),
        "valid_days": wording.valid_days,
    }
    if wording.questions is not None:
        fields["questions"] = list(wording.questions)
    if wording.asks_questions is not None:
        fields["asks_questions"] = wording.asks_questions
    return fields


def _stored(text: topic_texts.TopicWords) -> dict[str, Any]:
    return {
        "title": text.title,
        "lesson": list(text.lesson),
        "checks": list(text.checks),
        "questions": [
            {"text": one.text, "right": one.right, "wrong": list(one.wrong), "why": one.why}
            for one in text.questions
        ],
    }


def _unsaved(topic: Topic) -> TopicWording:
    return TopicWording(
        topic=topic,
        language=topic.language,
        version=topic.version,
        **{name: getattr(topic, name) for name in WORDS},
    )


def _keep(topic: Topic, acting: User | None) -> TopicWording:
    """Write the topic's present words down as a row of their own."""
    wording = _unsaved(topic)
    last = topic.wordings.filter(language=topic.language).last()
    wording.number = (last.number if last else 0) + 1
    wording.made_by = acting
    wording.save()
    return wording
