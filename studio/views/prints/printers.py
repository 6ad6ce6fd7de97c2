"""The school's printers: print the check page, type what the rule says, print true from then on."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from classroom.papers.printers import Doubtful, measure_printer, printers_of, take_off
from classroom.papers.printing import printed
from classroom.permissions import Action, Visit, requires
from classroom.queries import measurements_for, printer_for
from classroom.refusals import Refused
from studio.forms.prints.printers import PrinterForm
from studio.prints.paper.printer_check import TEMPLATE, printer_check_context

from .printer_choice import correction_for, remembered

_MEASUREMENTS_SHOWN = 20


@requires(Action.MANAGE_PRINTERS)
def printers(request: Visit) -> HttpResponse:
    """All printers with their newest measurement, and the form for a new one."""
    school = request.user.school
    form = PrinterForm(request.POST or None, initial={"name": request.GET.get("name", "")[:40]})
    doubtful = False
    if request.method == "POST" and form.is_valid():
        typed = form.cleaned_data
        try:
            check = measure_printer(
                school,
                typed["name"],
                typed["across_mm"],
                typed["up_mm"],
                acting=request.user,
                sure=typed["sure"],
            )
        except Doubtful as doubt:
            doubtful = True
            form.add_error(None, str(doubt))
        except Refused as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.success(
                request,
                f"{check.name} is remembered. Print its check page again: both bars must now "
                "measure 100 mm.",
            )
            return redirect("printers")
    return render(
        request,
        "studio/prints/paper/printers.html",
        {
            "form": form,
            "ask_sure": doubtful or request.POST.get("sure") is not None,
            "printers": printers_of(school).select_related("measured_by"),
            "measurements": measurements_for(request.user)[:_MEASUREMENTS_SHOWN],
            "crumbs": [{"label": "Today", "url": reverse("first_page")}, {"label": "Printers"}],
        },
    )


@requires(Action.MANAGE_PRINTERS)
@require_POST
def printer_gone(request: Visit, pk: int) -> HttpResponse:
    check = printer_for(request.user, pk)
    if check is None:
        raise Http404("There is no such printer.")
    take_off(check, acting=request.user)
    messages.success(request, f"{check.name} is off the list. Its measurements are kept.")
    return redirect("printers")


@requires(Action.PRINT)
@require_GET
def printer_check(request: Visit) -> HttpResponse:
    """The check page, as it comes or corrected for the printer in `?printer=`."""
    correction = correction_for(request, from_memory=False)  # a new one is measured as it comes
    context = printer_check_context(correction["printer"])
    more = {"back_url": reverse("printers")} if request.user.is_teacher else {}
    full = context | correction | more
    answer = printed(request, TEMPLATE, lambda: full, name="printer-check", short=True)
    return remembered(request, answer)
