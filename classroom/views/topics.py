"""Safety topics: what is taught and watched, for everybody to read and teachers to reword."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone, translation
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from classroom.acting import done, said_on
from classroom.forms.safety import TopicForm
from classroom.languages import LANGUAGES
from classroom.models import Topic, User
from classroom.permissions import Action, Visit, may, requires
from classroom.queries import courses_for, history_of, topic_for, topics_for
from classroom.safety.guardians import signatures
from classroom.safety.permits import standing_of
from classroom.safety.questions import passes
from classroom.safety.substances import shown_with
from classroom.safety.texts import DEFERRAL, HURT_NOTE, RECORD_NOTE
from classroom.safety.topics import add_topic, bring_back, retire, reword, wording_for, wordings_for
from classroom.wording.chosen_language import chosen_language, language_links

WORDINGS_SHOWN = 10


@requires(Action.SEE_SAFETY)
@require_safe
def topics(request: Visit) -> HttpResponse:
    """All topics; a student sees with each how they stand, a teacher the courses' permits."""
    person = request.user
    language = chosen_language(request, person.school)
    asked = list(topics_for(person).filter(retired_at=None))
    own = standing_of(person, timezone.localdate()) if person.is_student else []
    passed = passes([person], asked, timezone.now()) if person.is_student else {}
    words = wordings_for(asked, language)
    with translation.override(language):
        return render(
            request,
            "classroom/topics/topics.html",
            {
                "topics": [words[topic.pk] for topic in asked],
                "retired": topics_for(person).filter(retired_at__isnull=False),
                "standings": [
                    {
                        "one": one,
                        "title": words[one.topic.pk].title,
                        "lang": words[one.topic.pk].language,
                        "passed": (person.pk, one.topic.pk) in passed,
                    }
                    for one in own
                ],
                "lacks_form": _lacks_form(person),
                "courses": courses_for(person).running() if person.is_teacher else [],
                "deferral": gettext(DEFERRAL),
                "record_note": gettext(RECORD_NOTE),
                "hurt_note": gettext(HURT_NOTE),
                "lang": language,
                "sections": language_links(request, language),
            },
        )


@requires(Action.SEE_SAFETY)
@require_safe
def topic(request: Visit, pk: int) -> HttpResponse:
    one = topic_for(request.user, pk)
    person = request.user
    language = chosen_language(request, person.school)
    words = wording_for(one, language)
    with translation.override(language):
        return render(
            request,
            "classroom/topics/topic.html",
            {
                "topic": one,
                "words": words,
                "lang": language,
                "sections": language_links(request, language),
                "translations": _translations(one) if person.is_teacher else [],
                "substances": shown_with(person.school, [one.code], language),
                **_own(person, one),
                "diary": _diary(one) if may(person, Action.MANAGE_SAFETY) else [],
                "courses": courses_for(person).running() if person.is_teacher else [],
                "deferral": gettext(DEFERRAL),
                "hurt_note": gettext(HURT_NOTE),
                "crumbs": _crumbs(words.title),
            },
        )


def _lacks_form(person: User) -> bool:
    """Whether the school waits for this student's signed guardian form."""
    if not person.is_student or not person.school.asks_guardian:
        return False
    return person.pk not in signatures([person], timezone.localdate())


def _own(person: User, topic: Topic) -> dict[str, Any]:
    """How a student stands with the topic: permit, and the passed questions that count."""
    if not person.is_student:
        return {}
    own = [one for one in standing_of(person, timezone.localdate()) if one.topic == topic]
    attempt = passes([person], [topic], timezone.now()).get((person.pk, topic.pk))
    return {
        "standing": own[0] if own else None,
        "passed": attempt,
        "last_attempt": person.question_attempts.filter(topic=topic).first(),
    }


def _diary(topic: Topic) -> list[dict[str, Any]]:
    rows = history_of(topic).exclude(verb="answer-questions")
    return [
        {"when": row.at, "who": row.actor, "what": row.text, "before": row.detail.get("before")}
        for row in rows[:WORDINGS_SHOWN]
    ]


def _translations(topic: Topic) -> list[dict[str, Any]]:
    """Each other language: whether there is a translation, and whether it is of this version."""
    latest = {row.language: row for row in topic.wordings.order_by("number")}
    return [
        {
            "code": code,
            "name": name,
            "there": code in latest,
            "behind": code in latest and latest[code].version < topic.version,
        }
        for code, name in LANGUAGES.items()
        if code != topic.language
    ]


@requires(Action.MANAGE_SAFETY)
@require_http_methods(["GET", "POST"])
def topic_new(request: Visit) -> HttpResponse:
    form = TopicForm(request.POST or None, initial={"valid_days": 365, "asks_questions": True})
    if request.method == "POST" and form.is_valid():
        with said_on(form, "title"):
            made = add_topic(form.wording(), acting=request.user)
            return done(request, f"“{made}” is a topic now.", "topic", made.pk)
    return _form(request, form, "New safety topic", "Add the topic", reverse("topics"))


@requires(Action.MANAGE_SAFETY)
@require_http_methods(["GET", "POST"])
def topic_edit(request: Visit, pk: int) -> HttpResponse:
    one = topic_for(request.user, pk)
    form = TopicForm(request.POST or None, initial=TopicForm.of(one))
    if request.method == "POST" and form.is_valid():
        with said_on(form):
            new = reword(
                one,
                form.wording(),
                seen_version=form.cleaned_data["version"] or 0,
                acting=request.user,
            )
            return done(request, f"“{new}” stands as version {new.version}.", "topic", pk)
    return _form(request, form, f"Reword “{one}”", "Save the wording", reverse("topic", args=[pk]))


@requires(Action.MANAGE_SAFETY)
@require_POST
def topic_retire(request: Visit, pk: int) -> HttpResponse:
    one = topic_for(request.user, pk)
    retire(one, acting=request.user)
    messages.success(request, f"No permit is asked for “{one}” any more.")
    return redirect("topics")


@requires(Action.MANAGE_SAFETY)
@require_POST
def topic_restore(request: Visit, pk: int) -> HttpResponse:
    one = topic_for(request.user, pk)
    bring_back(one, acting=request.user)
    messages.success(request, f"Permits are asked for “{one}” again.")
    return redirect("topic", pk)


def _crumbs(here: str) -> list[dict[str, Any]]:
    return [{"label": gettext("Safety"), "url": reverse("topics")}, {"label": here}]


def _form(request: Visit, form: TopicForm, title: str, button: str, back_url: str) -> HttpResponse:
    return render(
        request,
        "classroom/form_page.html",
        {
            "form": form,
            "title": title,
            "lead": "In your school's own words. Permits given for the old wording stay in force "
            "until they end.",
            "button": button,
            "back_url": back_url,
            "crumbs": _crumbs(title),
        },
    )
