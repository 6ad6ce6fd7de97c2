"""The door: first run, signing in, signing out."""

from __future__ import annotations

import math
from typing import Any

from django.contrib import messages
from django.contrib.auth import login, logout
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.views import LoginView
from django.forms import BaseForm
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils.decorators import method_decorator
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from classroom.forms.school import FirstRunForm
from classroom.forms.sign_in import SignInForm
from classroom.permissions import open_to_all
from classroom.refusals import Refused
from classroom.setting_up import is_fresh, set_up
from classroom.signin import pause_of
from classroom.signin.known_devices import remember_device
from classroom.signin.private_pages import forget_pages

BACKEND = "classroom.signin.PassphraseBackend"


@method_decorator(sensitive_post_parameters(), name="dispatch")
class SignIn(LoginView):
    template_name = "classroom/signin/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        if is_fresh():
            return redirect("first_run")
        return super().dispatch(request, *args, **kwargs)

    def form_valid(self, form: AuthenticationForm) -> HttpResponse:
        response = super().form_valid(form)
        remember_device(self.request, response, form.get_user())
        return response

    def form_invalid(self, form: BaseForm) -> HttpResponse:
        """The page again; the door code is asked for where the try was not looked at."""
        pause = pause_of(self.request)
        response = self.render_to_response(self.get_context_data(form=form, paused=bool(pause)))
        if pause is not None:
            response.status_code = 429
            response["Retry-After"] = str(math.ceil(pause.total_seconds()))
        return response

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(**kwargs) | {"goes_on": bool(self.get_redirect_url())}


sign_in = open_to_all(SignIn.as_view())


@open_to_all
@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    logout(request)
    messages.success(request, "You are signed out.")
    response = redirect("sign_in")
    forget_pages(request, response)
    return response


@open_to_all
@never_cache
@sensitive_post_parameters()
@require_http_methods(["GET", "POST"])
def first_run(request: HttpRequest) -> HttpResponse:
    if not is_fresh():
        return redirect("first_page" if request.user.is_authenticated else "sign_in")
    form = FirstRunForm(request.POST or None, request=request)
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        try:
            teacher = set_up(
                form.instance,
                username=said["username"],
                display_name=said["display_name"],
                passphrase=said["new"],
            )
        except Refused as refusal:
            messages.error(request, str(refusal))
            return redirect("sign_in")
        login(request, teacher, backend=BACKEND)
        messages.success(request, f"{teacher.school.name} is set up, and you are signed in.")
        response = redirect("course_list")
        remember_device(request, response, teacher)
        return response
    return render(request, "classroom/signin/first_run.html", {"form": form})
