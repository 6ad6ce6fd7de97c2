"""A course's metal budget: what is left, who booked what and why, allotting, the CSV."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from classroom.acting import done, said_on
from classroom.models import Course
from classroom.permissions import Action, Visit, requires
from classroom.queries import course_for
from inventory.forms.lists import EntryFilter
from inventory.forms.money import AllotForm, PolicyForm, TransferForm
from inventory.models import BudgetEntry, SentForm
from inventory.queries import budget_of, entries_of
from inventory.spending import ledger
from inventory.spending.causes import cause_link
from inventory.spending.forecasting import forecast
from inventory.spreadsheets import csv_response

from .narrowing import narrowed_page

ENTRIES_PER_PAGE = 30
TAKES = {BudgetEntry.Kind.COMMITMENT, BudgetEntry.Kind.CHARGE}


@requires(Action.MANAGE_BUDGET)
@require_GET
def budget(request: Visit, course_pk: int) -> HttpResponse:
    course = course_for(request.user, course_pk)
    form = AllotForm(course=course, acting=request.user)
    return render(request, "inventory/budget.html", _shown(request, course, form))


@requires(Action.MANAGE_BUDGET)
@require_http_methods(["GET", "POST"])
def budget_allot(request: Visit, course_pk: int) -> HttpResponse:
    """The form's own address; the budget page carries the same form."""
    course = course_for(request.user, course_pk)
    form = AllotForm(request.POST or None, course=course, acting=request.user)
    if request.method == "POST" and form.is_valid():
        with said_on(form):
            with transaction.atomic():
                if SentForm.is_first(form.cleaned_data["once"], request.user):
                    ledger.allot(
                        ledger.open_budget(course),
                        form.signed,
                        acting=request.user,
                        reason=form.cleaned_data["reason"],
                    )
                    form.keep_answer(course, acting=request.user)
            return done(request, "The budget is changed.", "budget", course_pk)
    return render(request, "inventory/budget.html", _shown(request, course, form))


@requires(Action.MANAGE_BUDGET)
@require_http_methods(["GET", "POST"])
def budget_transfer(request: Visit, course_pk: int) -> HttpResponse:
    """Money goes from this course's budget to another of the teacher's courses."""
    course = course_for(request.user, course_pk)
    form = TransferForm(request.POST or None, source=course, acting=request.user)
    if request.method == "POST" and form.is_valid():
        with said_on(form):
            data = form.cleaned_data
            with transaction.atomic():
                if SentForm.is_first(data["once"], request.user):
                    ledger.transfer(
                        ledger.open_budget(course),
                        ledger.open_budget(data["target"]),
                        data["transfer_amount"],
                        acting=request.user,
                        reason=data["transfer_reason"],
                    )
                    form.keep_answer(course, acting=request.user)
            return done(request, "The money is moved.", "budget", course_pk)
    shown = _shown(request, course, AllotForm(course=course, acting=request.user)) | {
        "transfer_form": form
    }
    return render(request, "inventory/budget.html", shown)


@requires(Action.MANAGE_BUDGET)
@require_POST
def budget_policy(request: Visit, course_pk: int) -> HttpResponse:
    """What projects of the course pay for metal from now on; plans already priced keep theirs."""
    course = course_for(request.user, course_pk)
    form = PolicyForm(request.POST)
    if not form.is_valid():
        shown = _shown(request, course, AllotForm(course=course, acting=request.user)) | {
            "policy_form": form
        }
        return render(request, "inventory/budget.html", shown)
    if ledger.choose_policy(
        ledger.open_budget(course), form.cleaned_data["policy"], acting=request.user
    ):
        messages.success(request, "New cut plans are priced like that from now on.")
    return redirect("budget", course_pk)


@requires(Action.MANAGE_BUDGET)
@require_GET
def budget_csv(request: Visit, course_pk: int) -> HttpResponse:
    course = course_for(request.user, course_pk)
    currency = request.user.school.currency
    rows = (
        (
            f"{timezone.localtime(entry.at):%Y-%m-%d %H:%M}",
            entry.get_kind_display(),
            entry.amount,
            currency,
            entry.actor.display_name,
            entry.reason,
            entry.cause,
        )
        for entry in entries_of(budget_of(course)).iterator(chunk_size=500)
    )
    head = ("when", "kind", "amount", "currency", "who", "why", "caused by")
    return csv_response(f"metal budget {course}", head, rows)


def _shown(request: Visit, course: Course, form: AllotForm) -> dict[str, Any]:
    found = budget_of(course)
    entries = entries_of(found)
    listed = narrowed_page(request, entries, EntryFilter, per_page=ENTRIES_PER_PAGE)
    return listed | {
        "course": course,
        "budget": found,
        "charged_net": found.charged - found.credited,
        "overdrawn": -found.left if found.left < 0 else None,
        "form": form,
        "policy_form": PolicyForm(initial={"policy": found.cost_policy}),
        "transfer_form": TransferForm(source=course, acting=request.user),
        "forecast": forecast(
            found,
            starts_on=course.starts_on,
            ends_on=course.ends_on,
            today=timezone.localdate(),
        )
        if course.closed_at is None
        else None,
        "entries": [
            {
                "entry": entry,
                "cause": cause_link(entry.cause),
                "signed": -entry.amount if entry.kind in TAKES else entry.amount,
            }
            for entry in listed["page"]
        ],
        "crumbs": [
            {"label": "Courses", "url": reverse("course_list")},
            {"label": str(course), "url": reverse("course", args=[course.pk])},
            {"label": "Metal budget"},
        ],
    }
