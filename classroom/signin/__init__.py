"""Signing in by user name and passphrase, and who is held up by whose wrong tries.

classroom/signin/README.md, "Guessing at the door", has what this defends against, with numbers.
"""

from __future__ import annotations

import datetime as dt
import math
from typing import Any

from django.contrib.auth.backends import BaseBackend
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from classroom.models import User

from .client_address import client_key
from .known_devices import device_of, is_door_code
from .slowing import Count, Curve, Try, account_key, key_of

ONE_GUESSER = Curve(free=5, longest=300, forget_one_in=1800)
"""One client, device or tablet at one account."""
ONE_ACCOUNT = Curve(free=20, longest=300, forget_one_in=1800)
"""One account, from everywhere but the devices that it knows."""
ONE_CLIENT = Curve(free=100, longest=10, forget_one_in=10)
"""One client at all accounts: a whole school has one address and slips now and then."""

LONGEST_PASSPHRASE = 200


class PassphraseBackend(BaseBackend):
    """Checks a passphrase; takes as long for an unknown name as for a known one.

    During a pause nothing is checked, whoever it is: then `pause_of(request)` tells.
    """

    def authenticate(
        self,
        request: HttpRequest | None,
        username: str | None = None,
        password: str | None = None,
        door_code: str = "",
        device: str = "",
        **kwargs: Any,
    ) -> User | None:
        """`device` names one whose own secret was checked already: a bench tablet, a session."""
        if not username or not password or len(password) > LONGEST_PASSPHRASE:
            return None
        name = username.strip().lower()
        user = User.objects.filter(username=name).first()
        # Without a request it is the house itself that asks, and nobody guesses.
        trying = None if request is None else _try(request, name, user, door_code, device)
        if request is not None and trying is not None:
            pause = trying.begin()
            if pause is not None:
                request.sign_in_pause = pause  # type: ignore[attr-defined]
                raise PermissionDenied
        if user is None:
            User().set_password(password)  # the same work, so that names cannot be found by time
            right = False
        else:
            right = user.check_password(password) and user.is_active
        if trying is not None:
            trying.end(right=right)
        return user if right else None

    def get_user(self, user_id: int) -> User | None:
        return User.objects.select_related("school").filter(pk=user_id, is_active=True).first()


def _try(request: HttpRequest, name: str, user: User | None, door_code: str, device: str) -> Try:
    account = account_key(name)
    client = client_of(request)

    def own(*whose: str) -> Count:
        return Count(key_of(account, *whose), ONE_GUESSER, account)

    if device:
        # Its guesses are also held against its address, where it is of no known device.
        return Try([own("device", device)], told=[own("client", client)])
    if user is not None and door_code and is_door_code(user, door_code):
        return Try([own("door code")])
    cookie = device_of(request)
    if user is not None and cookie is not None and cookie.knows(user):
        return Try([own("device", cookie.number)])
    voucher = cookie.voucher() if cookie is not None else None
    # A pupil's own machine guesses at others on that pupil's count, not on the whole school's.
    wide = key_of("voucher", voucher.pk) if voucher else key_of("client", client)
    return Try(
        [own("client", client), Count(account, ONE_ACCOUNT, account), Count(wide, ONE_CLIENT)]
    )


def client_of(request: HttpRequest) -> str:
    """The address that the tries of one client share: in IPv6 a whole /64 is one household."""
    return client_key(str(request.META.get("REMOTE_ADDR", "")))


def pause_of(request: HttpRequest) -> dt.timedelta | None:
    """How long this request's try has yet to wait; None when it was looked at."""
    pause: dt.timedelta | None = getattr(request, "sign_in_pause", None)
    return pause


def wait_in_words(pause: dt.timedelta) -> str:
    """“8 seconds”, “5 minutes”; rounded up, so that nobody comes back too early."""
    seconds = max(1, math.ceil(pause.total_seconds()))
    if seconds <= 90:
        return ngettext("%(count)d second", "%(count)d seconds", seconds) % {"count": seconds}
    minutes = math.ceil(seconds / 60)
    return ngettext("%(count)d minute", "%(count)d minutes", minutes) % {"count": minutes}


def paused_words(pause: dt.timedelta) -> str:
    """What somebody is told whose try was not looked at, where there is no room for more."""
    text = _(
        "There were too many tries with a wrong passphrase, so this one was not looked at. "
        "Wait %(time)s and try again."
    )
    return text % {"time": wait_in_words(pause)}
