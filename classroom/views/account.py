"""One's own account: who one is here, a new passphrase, and the language at the bench."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from classroom.forms.sign_in import NewPassphraseForm
from classroom.languages import LANGUAGES, in_language, known
from classroom.permissions import Action, Visit, requires
from classroom.queries import courses_for
from classroom.signin import pause_of
from classroom.signin.known_devices import door_code_of, remember_device
from classroom.signin.passphrases import choose_passphrase
from classroom.wording.chosen_language import KEPT, shown_in_chosen_language
from classroom.wording.own_language import remember_language


@requires(Action.SEE_OWN_ACCOUNT)
@shown_in_chosen_language
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
            request, _("Your new passphrase is in force. The old card can be thrown away.")
        )
        response = redirect("own_account")
        remember_device(request, response, person)  # it was known by the passphrase of before
        return response
    courses = courses_for(person).running().distinct()
    seats = person.seats.select_related("course") if person.is_student else []
    return render(
        request,
        "classroom/signin/own_account.html",
        {
            "form": form,
            "door_code": door_code_of(person),
            "courses": courses,
            "seats": seats,
            "languages": LANGUAGES.items(),
            "school_language": LANGUAGES[known(person.school.language)],
        },
        status=200 if pause_of(request) is None else 429,
    )


@requires(Action.SEE_OWN_ACCOUNT)
@require_POST
def own_language(request: Visit) -> HttpResponse:
    """Remember the language that the person chose, on whatever machine they sign in next."""
    person = request.user
    remember_language(person, request.POST.get("language", ""))
    request.session.pop(KEPT, None)  # what was asked for earlier today does not outlive the choice
    with in_language(person.language or person.school.language):
        messages.success(request, _("Bench and safety pages now come in this language."))
    return redirect("own_account")
