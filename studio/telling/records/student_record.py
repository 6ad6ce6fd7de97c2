"""Everything that a student signed, answered and was given, in the order in which it happened."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import get_language, gettext_noop
from django.utils.translation import gettext as _

from classroom.models import (
    BenchPermit,
    GuardianSignature,
    PermitWithdrawal,
    QuestionAttempt,
    Seat,
    Topic,
    TopicWording,
)
from classroom.safety.topics import wordings_for
from studio.core.bench.planned import PlannedBenchStep, wording_of
from studio.models import SignOff
from studio.steps.bench.rules import title

Words = Mapping[int, TopicWording]

KINDS = {
    SignOff.Kind.STARTED: gettext_noop("step started"),
    SignOff.Kind.DONE: gettext_noop("step done"),
    SignOff.Kind.CHECKED: gettext_noop("step checked"),
    SignOff.Kind.SENT_BACK: gettext_noop("step sent back"),
    SignOff.Kind.OVERRIDE: gettext_noop("rule lifted"),
}


@dataclass(frozen=True, slots=True)
class Entry:
    """One row: when, what kind, about what, how it came out, by whom, in which wording.

    `detail` has questions with their answers, or the words that a sign-off signed.
    """

    at: dt.datetime
    kind: str
    about: str
    outcome: str
    by: str
    wording: str
    detail: str = ""

    def cells(self) -> list[str]:
        local = timezone.localtime(self.at)
        return [
            f"{local:%Y-%m-%d %H:%M}",
            self.kind,
            self.about,
            self.outcome,
            self.by,
            self.wording,
            self.detail,
        ]


def head() -> list[str]:
    return [
        _("When"),
        _("What"),
        _("About"),
        _("Outcome"),
        _("By"),
        _("Wording"),
        _("Questions and answers, or the words signed"),
    ]


def record_of(seat: Seat) -> list[Entry]:
    """Permits, attempts and guardian forms of the student; sign-offs of the seat's own course.

    Oldest first, with titles in the language that is on; the number of queries does not grow
    with what there is.
    """
    topics = Topic.objects.filter(school=seat.student.school_id)
    words = wordings_for(topics, get_language() or "en")
    entries = [
        *_attempts(seat, words),
        *_permits(seat, words),
        *_withdrawals(seat, words),
        *_guardian(seat),
        *_sign_offs(seat),
    ]
    return sorted(entries, key=lambda entry: entry.at)


def _attempts(seat: Seat, words: Words) -> list[Entry]:
    rows = QuestionAttempt.objects.filter(student=seat.student_id).select_related("wording")
    return [
        Entry(
            row.at,
            _("questions"),
            words[row.topic_id].title,
            f"{row.right} / {len(row.asked)}, {_('passed') if row.passed else _('not passed')}",
            str(seat.student),
            _version(row.topic_version),
            _answers(row.asked, row.given),
        )
        for row in rows
    ]


def _permits(seat: Seat, words: Words) -> list[Entry]:
    rows = BenchPermit.objects.filter(student=seat.student_id).select_related("given_by")
    entries = []
    for row in rows:
        outcome = [f"{_('until')} {row.expires_on:%Y-%m-%d}", row.remark]
        if row.in_spite_of:
            outcome.append(f"{_('given all the same')}: {row.in_spite_of}")
        entries.append(
            Entry(
                row.given_at,
                _("bench permit"),
                words[row.topic_id].title,
                "; ".join(filter(None, outcome)),
                str(row.given_by),
                _version(row.topic_version),
            )
        )
    return entries


def _withdrawals(seat: Seat, words: Words) -> list[Entry]:
    rows = PermitWithdrawal.objects.filter(permit__student=seat.student_id)
    return [
        Entry(
            row.withdrawn_at,
            _("permit withdrawn"),
            words[row.permit.topic_id].title,
            row.reason,
            str(row.withdrawn_by),
            _version(row.permit.topic_version),
        )
        for row in rows.select_related("permit", "withdrawn_by")
    ]


def _guardian(seat: Seat) -> list[Entry]:
    rows = GuardianSignature.objects.filter(student=seat.student_id).select_related("recorded_by")
    return [
        Entry(
            row.recorded_at,
            _("guardian form"),
            "",
            f"{_('signed')} {row.signed_on:%Y-%m-%d}"
            if row.signed_on
            else f"{_('no longer counts')}: {row.reason}",
            str(row.recorded_by),
            "",
        )
        for row in rows
    ]


def signed_words(seat: Seat) -> list[tuple[str, str, list[str]]]:
    """Every wording that the seat's sign-offs name: hash, language and its lines, each once."""
    found = {}
    for row in _sign_off_rows(seat):
        language = row.step.language_of(row.wording_sha)
        found[row.wording_sha] = (row.wording_sha, language, _said(row).splitlines())
    return list(found.values())


def _sign_off_rows(seat: Seat) -> QuerySet[SignOff]:
    return SignOff.objects.filter(step__project__seat=seat).select_related(
        "step__project__brief", "step__project__seat__student", "by"
    )


def _sign_offs(seat: Seat) -> list[Entry]:
    return [
        Entry(
            row.at,
            _(KINDS[SignOff.Kind(row.kind)]),
            f"{row.step.project.title or row.step.project.brief.title}: {title(row.step)}",
            row.reason,
            str(row.by),
            f"{row.wording_sha[:12]} ({row.step.language_of(row.wording_sha)})",
            _said(row),
        )
        for row in _sign_off_rows(seat)
    ]


def _said(row: SignOff) -> str:
    """The words that were shown to whoever signed; their hash is the one that the row keeps."""
    words = row.step.words_in(row.step.language_of(row.wording_sha))
    return wording_of(PlannedBenchStep.from_json(words))


def _version(number: int) -> str:
    return f"{_('version')} {number}"


def _answers(asked: Sequence[dict[str, Any]], given: Sequence[int]) -> str:
    return " | ".join(
        f"{one['text']} {one['options'][chosen]} "
        f"({_('right') if chosen == one['right'] else _('not right')})"
        for one, chosen in zip(asked, given, strict=True)
    )
