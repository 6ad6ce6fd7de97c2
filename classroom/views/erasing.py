"""Names that may be erased now, for those who look after the school."""

from __future__ import annotations

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from classroom.erasing import due, erase_due
from classroom.models import Erasure
from classroom.permissions import Action, Visit, requires

ERASURES_PER_PAGE = 25


@requires(Action.KEEP_SCHOOL)
@require_http_methods(["GET", "POST"])
def old_names(request: Visit) -> HttpResponse:
    """POST erases the ticked names among those that are due."""
    school = request.user.school
    if request.method == "POST":
        ticked = request.POST.getlist("students")[:3000]
        only = [int(one) for one in ticked if one.isascii() and one.isdigit() and len(one) < 18]
        gone = erase_due(school, acting=request.user, only=only)
        if gone:
            count = "1 name is" if len(gone) == 1 else f"{len(gone)} names are"
            messages.success(request, f"{count} erased. Rows and counts are as before.")
        else:
            messages.error(request, "Tick at least one name that is due.")
        return redirect("old_names")
    done = Erasure.objects.filter(student__school=school).select_related("student", "done_by")
    return render(
        request,
        "classroom/old_names.html",
        {
            "students": due(school, timezone.localdate()),
            "page": Paginator(done, ERASURES_PER_PAGE).get_page(request.GET.get("page")),
            "crumbs": [
                {"label": "The school", "url": reverse("school_settings")},
                {"label": "Old names"},
            ],
        },
    )
