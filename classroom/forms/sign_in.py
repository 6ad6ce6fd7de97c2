"""Forms of one's own account: signing in, and a new passphrase."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

from django import forms
from django.contrib.auth import authenticate, password_validation
from django.contrib.auth.forms import AuthenticationForm
from django.http import HttpRequest
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from classroom.models import User
from classroom.signin import LONGEST_PASSPHRASE, pause_of, paused_words

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise


def passphrase_field(label: StrOrPromise, **more: Any) -> forms.CharField:
    """A passphrase: never shown, never trimmed, bounded because hashing costs time."""
    new = more.pop("new", False)
    attributes = {"autocomplete": "new-password" if new else "current-password"}
    return forms.CharField(
        label=label,
        strip=False,
        max_length=LONGEST_PASSPHRASE,
        widget=forms.PasswordInput(attrs=attributes),
        **more,
    )


def clean_new_passphrase(form: forms.BaseForm, user: User) -> None:
    """Put a finding on `new` or `again` where the two differ or the passphrase is too weak."""
    new, again = form.cleaned_data.get("new"), form.cleaned_data.get("again")
    if new and again and new != again:
        form.add_error("again", _("The two passphrases differ. Type the same one twice."))
    elif new:
        try:
            password_validation.validate_password(new, user)
        except forms.ValidationError as error:
            form.add_error("new", error)


class SignInForm(AuthenticationForm):
    """Name and passphrase; the page asks for the door code only once sign-in is paused."""

    door_code = forms.CharField(
        label=gettext_lazy("Door code"),
        required=False,
        max_length=40,
        help_text=gettext_lazy("Eight letters and digits from your sign-in card. No code? Wait."),
        widget=forms.TextInput(
            attrs={"autocapitalize": "none", "spellcheck": "false", "autocomplete": "off"}
        ),
    )

    error_messages = {
        "invalid_login": (
            "This user name and passphrase do not go together. Both are on your sign-in card; "
            "a teacher can print a new one."
        ),
        "inactive": "This account is closed. Ask a teacher.",
    }

    def __init__(self, request: HttpRequest | None = None, *args: Any, **kwargs: Any) -> None:
        super().__init__(request, *args, **kwargs)
        name = self.fields["username"]
        name.label = "User name"
        name.widget.attrs |= {"autocapitalize": "none", "spellcheck": "false"}
        self.fields["password"] = passphrase_field("Passphrase")

    def clean_username(self) -> str:
        # One spelling, so that counting failed tries cannot be dodged by capitals.
        return str(self.cleaned_data["username"]).strip().lower()

    def clean(self) -> dict[str, Any]:
        said = self.cleaned_data
        if said.get("username") and said.get("password"):
            self.user_cache = authenticate(
                self.request,
                username=said["username"],
                password=said["password"],
                door_code=said.get("door_code", ""),
            )
            if self.pause is not None:
                raise forms.ValidationError(paused_words(self.pause), code="paused")
            if self.user_cache is None:
                raise self.get_invalid_login_error()
            self.confirm_login_allowed(self.user_cache)
        return said

    @property
    def pause(self) -> dt.timedelta | None:
        """How long the door rests yet for this try, which then was not looked at."""
        return pause_of(self.request) if self.request is not None else None


class NewPassphraseForm(forms.Form):
    """A new passphrase for oneself, after showing that one knows the present one."""

    old = passphrase_field(gettext_lazy("Your present passphrase"))
    new = passphrase_field(
        gettext_lazy("New passphrase"),
        new=True,
        help_text=gettext_lazy(
            "At least 10 characters. Four words that do not belong together do well."
        ),
    )
    again = passphrase_field(gettext_lazy("New passphrase once more"), new=True)

    def __init__(self, *args: Any, request: HttpRequest, user: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.request = request
        self.user = user

    def clean_old(self) -> str:
        old = str(self.cleaned_data["old"])
        # Through the same door as sign-in, so that guessing here is counted there.
        found = authenticate(
            self.request, username=self.user.username, password=old, device="signed in"
        )
        pause = pause_of(self.request)
        if pause is not None:
            raise forms.ValidationError(paused_words(pause))
        if found != self.user:
            raise forms.ValidationError(_("This is not your present passphrase."))
        return old

    def clean(self) -> dict[str, Any]:
        super().clean()
        clean_new_passphrase(self, self.user)
        return self.cleaned_data
