"""The questions of a topic: answered by students, written and translated by teachers."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import translation
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from classroom.acting import done, said_on
from classroom.forms.questions import TranslationForm, questions_formset
from classroom.languages import LANGUAGES
from classroom.models import Topic
from classroom.permissions import Action, Visit, requires
from classroom.queries import attempt_for, topic_for
from classroom.refusals import Refused
from classroom.refused_forms import Wrong
from classroom.safety.questions import answer, new_sheet, pause_until, reopened
from classroom.safety.topics import Wording, reword, translate, wording_for
from classroom.wording.chosen_language import chosen_language, language_links


@requires(Action.ANSWER_QUESTIONS)
@never_cache
@require_http_methods(["GET", "POST"])
def topic_questions(request: Visit, pk: int) -> HttpResponse:
    """GET makes a new sheet; POST marks the one that it names and leads to the result."""
    topic = topic_for(request.user, pk)
    language = chosen_language(request, request.user.school)
    with translation.override(language):
        refusal = ""
        given: dict[int, int | None] = {}
        sheet = None
        if request.method == "POST":
            token = request.POST.get("sheet", "")[:500]
            given = _given(request)
            try:
                attempt = answer(request.user, topic, token, given)
            except Refused as no:
                refusal = str(no)
                sheet = reopened(request.user, topic, token)
            else:
                return redirect(f"{reverse('attempt', args=[attempt.pk])}?lang={language}")
        waits = pause_until(request.user, topic)
        is_sent_again = sheet is not None
        if sheet is None and waits is None:
            given = {}
            sheet = new_sheet(request.user, topic, language)
        rows = [
            {
                "at": at,
                "asked": one,
                "options": [
                    {"at": place, "text": text, "chosen": given.get(at) == place}
                    for place, text in enumerate(one.options)
                ],
                "empty": is_sent_again and given.get(at) is None,
            }
            for at, one in enumerate(sheet.questions if sheet else ())
        ]
        return render(
            request,
            "classroom/topics/questions.html",
            {
                "topic": topic,
                "title": wording_for(topic, language).title,
                "sheet": sheet,
                "rows": rows,
                "waits": waits,
                "wrongs": _wrongs(rows, refusal),
                "refusal": refusal,
                "lang": language,
                "sections": language_links(request, language),
                "crumbs": _crumbs(topic, translation.gettext("Questions")),
            },
        )


def _wrongs(rows: list[dict[str, Any]], refusal: str) -> list[Wrong]:
    """What the summary says: the questions without an answer, else why the sheet was refused."""
    question, choose = translation.gettext("Question"), translation.gettext("Choose an answer.")
    empty = [
        Wrong(f"{question} {row['at'] + 1}", choose, f"a{row['at']}")
        for row in rows
        if row["empty"]
    ]
    return empty or ([Wrong("", refusal)] if refusal else [])


@requires(Action.SEE_SAFETY)
@require_safe
def attempt(request: Visit, pk: int) -> HttpResponse:
    """One attempt: what was asked, what was answered, and why."""
    one = attempt_for(request.user, pk)
    language = chosen_language(request, request.user.school)
    with translation.override(language):
        rows = [
            {
                "text": asked["text"],
                "given": asked["options"][given],
                "is_right": given == asked["right"],
                "why": asked["why"],
            }
            for asked, given in zip(one.asked, one.given, strict=True)
        ]
        return render(
            request,
            "classroom/topics/attempt.html",
            {
                "attempt": one,
                "rows": rows,
                "waits": pause_until(one.student, one.topic),
                "is_own": one.student == request.user,
                "lang": language,
                "crumbs": _crumbs(one.topic, translation.gettext("Answers")),
            },
        )


@requires(Action.MANAGE_SAFETY)
@require_http_methods(["GET", "POST"])
def topic_questions_edit(request: Visit, pk: int) -> HttpResponse:
    topic = topic_for(request.user, pk)
    formset = questions_formset(request.POST or None, topic.questions)
    refusal = ""
    if request.method == "POST" and formset.is_valid():
        wording = Wording(
            topic.title, topic.lesson, topic.checks, topic.valid_days, formset.questions()
        )
        try:
            new = reword(
                topic, wording, seen_version=_number(request, "version"), acting=request.user
            )
        except Refused as no:
            refusal = str(no)
        else:
            messages.success(request, f"The questions stand as version {new.version}.")
            return redirect("topic", pk)
    return render(
        request,
        "classroom/topics/questions_edit.html",
        {
            "topic": topic,
            "formset": formset,
            "refusal": refusal,
            "wrongs": [Wrong("", refusal)] if refusal else [],
            "version": _number(request, "version") or topic.version,
            "crumbs": _crumbs(topic, "Questions"),
        },
    )


@requires(Action.MANAGE_SAFETY)
@require_http_methods(["GET", "POST"])
def topic_translate(request: Visit, pk: int, language: str) -> HttpResponse:
    topic = topic_for(request.user, pk)
    if language not in LANGUAGES or language == topic.language:
        raise Http404
    latest = topic.wordings.filter(language=language).last()
    form = TranslationForm(request.POST or None, initial=TranslationForm.of(latest))
    formset = questions_formset(
        request.POST or None,
        latest.questions if latest else [],
        extra=max(1, len(topic.questions) - len(latest.questions if latest else [])),
    )
    if request.method == "POST" and form.is_valid() and formset.is_valid():
        said = form.cleaned_data
        words = {name: said[name] for name in ("title", "lesson", "checks")}
        words["questions"] = formset.questions()
        with said_on(form):
            if bool(words["questions"]) != bool(topic.questions):
                raise Refused("Translate the questions too: each language asks its own.")
            translate(topic, language, words, seen=said["seen"], acting=request.user)
            stands = f"“{words['title']}” stands in {LANGUAGES[language]}."
            return done(request, stands, f"{reverse('topic', args=[pk])}?lang={language}")
    return render(
        request,
        "classroom/topics/topic_translate.html",
        {
            "topic": topic,
            "form": form,
            "formset": formset,
            "language": language,
            "language_name": LANGUAGES[language],
            "is_behind": latest is not None and latest.version < topic.version,
            "crumbs": _crumbs(topic, LANGUAGES[language]),
        },
    )


def _given(request: Visit) -> dict[int, int | None]:
    found: dict[int, int | None] = {}
    for at in range(50):
        said = request.POST.get(f"a{at}", "")
        found[at] = int(said) if said.isascii() and said.isdigit() and len(said) < 3 else None
    return found


def _number(request: Visit, name: str) -> int:
    said = request.POST.get(name, "")
    return int(said) if said.isascii() and said.isdigit() and len(said) < 9 else 0


def _crumbs(topic: Topic, here: str) -> list[dict[str, Any]]:
    return [
        {"label": translation.gettext("Safety"), "url": reverse("topics")},
        {
            "label": wording_for(topic, translation.get_language() or "en").title,
            "url": reverse("topic", args=[topic.pk]),
        },
        {"label": here},
    ]
