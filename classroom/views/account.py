"""One's own account: who one is here, and a new passphrase."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from classroom.forms.sign_in import NewPassphraseForm
from classroom.passphrases import choose_passphrase
from classroom.permissions import Action, Visit, requires
from classroom.queries import courses_for


@requires(Action.SEE_OWN_ACCOUNT)
@sensitive_post_parameters()
@require_http_methods(["GET", "POST"])
def own_account(request: Visit) -> HttpResponse:
    person = request.user
    form = NewPassphraseForm(request.POST or None, request=request, user=person)
    if request.method == "POST" and form.is_valid():
        choose_passphrase(person, form.cleaned_data["new"])
        # This browser stays signed in; every other one is signed out.
        update_session_auth_hash(request, person)
        messages.success(
            request, "Your new passphrase is in force. The old card can be thrown away."
        )
        return redirect("own_account")
    courses = courses_for(person).running().distinct()
    seats = person.seats.select_related("course") if person.is_student else []
    return render(
        request,
        "classroom/own_account.html",
        {"form": form, "courses": courses, "seats": seats},
    )
