"""A code for the first visitor, where more than this machine can reach an empty installation.

Whoever comes first makes the school and becomes its keeper; so that this is the person at the
server, the page asks for a code that the server prints when it starts. All its processes know the
code by the environment. It is worth nothing once the school exists.
"""

from __future__ import annotations

import datetime as dt
import os

from django.conf import settings
from django.http import HttpRequest
from django.utils.crypto import constant_time_compare

from classroom.setting_up import is_fresh

from . import ONE_GUESSER, client_of
from .known_devices import new_code, plain_code
from .slowing import Count, Try, key_of

VARIABLE = "BENCHLEDGER_FIRST_RUN_CODE"
SIGNS = 10
"""Fifty bits: nothing to be had by the tries that one client, or many, are left."""
OWN_NAMES = {"localhost", "127.0.0.1", "[::1]", "::1"}


def first_run_code(listens_elsewhere: bool) -> str | None:
    """The code to print at start and to hand on as `VARIABLE`; None where none is needed.

    It is needed while there is no school, when the server listens on more than this machine, is
    meant to be reached by other names than this machine's own, or stands behind a proxy that the
    settings name. (One that they do not name, on this very machine, cannot be told from a visitor
    at this machine.) A code that the environment names already is kept, so that several machines
    can have the same.
    """
    reached = (
        listens_elsewhere
        or settings.BEHIND_TLS
        or bool(settings.PROXIES)
        or not set(settings.ALLOWED_HOSTS) <= OWN_NAMES
    )
    if not reached or not is_fresh():
        return None
    return os.environ.get(VARIABLE) or new_code(SIGNS)


def wanted_code() -> str:
    """The code that the first-run page asks for; empty for none."""
    return os.environ.get(VARIABLE, "")


def code_is_right(request: HttpRequest, typed: str) -> bool | dt.timedelta:
    """Whether the visitor typed the code; how long to wait yet where the try was not looked at."""
    trying = Try([Count(key_of("first run", client_of(request)), ONE_GUESSER)])
    pause = trying.begin()
    if pause is not None:
        return pause
    right = constant_time_compare(plain_code(wanted_code()), plain_code(typed))
    trying.end(right=right)
    return right
