"""Safety topics: what is taught and watched, for everybody to read and teachers to reword."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from classroom.forms.safety import TopicForm
from classroom.models import History
from classroom.permissions import Action, Visit, may, requires
from classroom.permits import standing_of
from classroom.queries import courses_for, topic_for, topics_for
from classroom.refusals import Refused
from classroom.safety_texts import DEFERRAL, HURT_NOTE, RECORD_NOTE
from classroom.topics import add_topic, bring_back, retire, reword

WORDINGS_SHOWN = 10


@requires(Action.SEE_SAFETY)
@require_safe
def topics(request: Visit) -> HttpResponse:
    """All topics; a student sees with each how they stand, a teacher the courses' permits."""
    person = request.user
    own = standing_of(person, timezone.localdate()) if person.is_student else []
    return render(
        request,
        "classroom/topics.html",
        {
            "topics": topics_for(person).filter(retired_at=None),
            "retired": topics_for(person).filter(retired_at__isnull=False),
            "standings": own,
            "courses": courses_for(person).running() if person.is_teacher else [],
            "deferral": DEFERRAL,
            "record_note": RECORD_NOTE,
            "hurt_note": HURT_NOTE,
        },
    )


@requires(Action.SEE_SAFETY)
@require_safe
def topic(request: Visit, pk: int) -> HttpResponse:
    one = topic_for(request.user, pk)
    own = [
        standing
        for standing in (
            standing_of(request.user, timezone.localdate()) if request.user.is_student else []
        )
        if standing.topic == one
    ]
    diary = []
    if may(request.user, Action.MANAGE_SAFETY):
        rows = History.objects.about(one).select_related("actor")[:WORDINGS_SHOWN]
        diary = [
            {"when": row.at, "who": row.actor, "what": row.text, "before": row.detail.get("before")}
            for row in rows
        ]
    return render(
        request,
        "classroom/topic.html",
        {
            "topic": one,
            "standing": own[0] if own else None,
            "diary": diary,
            "courses": courses_for(request.user).running() if request.user.is_teacher else [],
            "deferral": DEFERRAL,
            "hurt_note": HURT_NOTE,
            "crumbs": _crumbs(one.title),
        },
    )


@requires(Action.MANAGE_SAFETY)
@require_http_methods(["GET", "POST"])
def topic_new(request: Visit) -> HttpResponse:
    form = TopicForm(request.POST or None, initial={"valid_days": 365})
    if request.method == "POST" and form.is_valid():
        try:
            made = add_topic(form.wording(), acting=request.user)
        except Refused as refusal:
            form.add_error("title", str(refusal))
        else:
            messages.success(request, f"“{made}” is a topic now.")
            return redirect("topic", made.pk)
    return _form(request, form, "New safety topic", "Add the topic", reverse("topics"))


@requires(Action.MANAGE_SAFETY)
@require_http_methods(["GET", "POST"])
def topic_edit(request: Visit, pk: int) -> HttpResponse:
    one = topic_for(request.user, pk)
    form = TopicForm(request.POST or None, initial=TopicForm.of(one))
    if request.method == "POST" and form.is_valid():
        try:
            new = reword(
                one,
                form.wording(),
                seen_version=form.cleaned_data["version"] or 0,
                acting=request.user,
            )
        except Refused as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.success(request, f"“{new}” stands as version {new.version}.")
            return redirect("topic", pk)
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
    return [{"label": "Safety", "url": reverse("topics")}, {"label": here}]


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
