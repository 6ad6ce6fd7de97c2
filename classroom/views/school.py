"""The school's settings and teachers, for those who look after them."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from classroom.forms.school import SchoolForm, TeacherForm
from classroom.models import User, record
from classroom.people.teachers import (
    add_teacher,
    close_account,
    open_account,
    set_keeper,
    teachers_of,
)
from classroom.permissions import Action, Visit, requires
from classroom.queries import school_of
from classroom.refusals import Refused
from classroom.signin.known_devices import mark_of
from classroom.signin.passphrases import ALREADY_ISSUED, is_marked, issue_cards

from .cards import card_maker, cards_print


@requires(Action.KEEP_SCHOOL)
@require_http_methods(["GET", "POST"])
def school_settings(request: Visit) -> HttpResponse:
    form = SchoolForm(request.POST or None, instance=school_of(request.user))
    address = form.fields["address_for_students"]
    address.widget.attrs["placeholder"] = request.build_absolute_uri("/")
    if request.method == "POST" and form.is_valid():
        with transaction.atomic():
            form.save()
            if form.changed_data:
                record(request.user, "change-school", form.instance, "School settings changed")
        messages.success(request, "The school's settings are saved.")
        return redirect("school_settings")
    teachers: list[dict[str, Any]] = [
        {"person": one, "mark": mark_of(one), "is_me": one == request.user}
        for one in teachers_of(request.user)
    ]
    keepers = sum(one["person"].keeps_school and one["person"].is_active for one in teachers)
    return render(
        request,
        "classroom/school_settings.html",
        {"form": form, "teachers": teachers, "keepers": keepers},
    )


@requires(Action.KEEP_SCHOOL)
@never_cache
@require_http_methods(["GET", "POST"])
def teacher_new(request: Visit) -> HttpResponse:
    """POST answers with the one card that shows the passphrase."""
    form = TeacherForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with card_maker(request) as make:
            try:
                card = add_teacher(
                    form.cleaned_data["display_name"],
                    keeps_school=form.cleaned_data["keeps_school"],
                    acting=request.user,
                )
            except Refused as refusal:
                form.add_error("display_name", str(refusal))
            else:
                back = reverse("school_settings")
                return cards_print(request, [card], make, title="New teacher", back_url=back)
    return render(
        request,
        "classroom/form_page.html",
        {
            "form": form,
            "title": "Add a teacher",
            "lead": "You get a sign-in card to print. Its passphrase shows once and is not kept.",
            "button": "Add and show the card",
            "back_url": reverse("school_settings"),
            "crumbs": [
                {"label": "The school", "url": reverse("school_settings")},
                {"label": "Add a teacher"},
            ],
        },
    )


@requires(Action.KEEP_SCHOOL)
@never_cache
@require_POST
def teacher_card(request: Visit, pk: int) -> HttpResponse:
    """A new passphrase for a teacher who lost theirs."""
    teacher = _teacher(request, pk)
    if not is_marked(teacher, request.POST.get("mark", "")):
        raise Refused(ALREADY_ISSUED)
    with card_maker(request) as make:
        cards = issue_cards([teacher], acting=request.user)
        back = reverse("school_settings")
        return cards_print(request, cards, make, title=str(teacher), back_url=back)


@requires(Action.KEEP_SCHOOL)
@require_POST
def teacher_close(request: Visit, pk: int) -> HttpResponse:
    teacher = _teacher(request, pk)
    close_account(teacher, acting=request.user)
    messages.success(request, f"{teacher} can no longer sign in.")
    return redirect("school_settings")


@requires(Action.KEEP_SCHOOL)
@require_POST
def teacher_open(request: Visit, pk: int) -> HttpResponse:
    teacher = _teacher(request, pk)
    open_account(teacher, acting=request.user)
    messages.success(request, f"{teacher} can sign in again.")
    return redirect("school_settings")


@requires(Action.KEEP_SCHOOL)
@require_POST
def teacher_keeper(request: Visit, pk: int) -> HttpResponse:
    teacher = _teacher(request, pk)
    set_keeper(teacher, request.POST.get("keeps") == "yes", acting=request.user)
    messages.success(request, f"Saved for {teacher}.")
    return redirect("first_page" if teacher == request.user else "school_settings")


def _teacher(request: Visit, pk: int) -> User:
    return get_object_or_404(teachers_of(request.user), pk=pk)
