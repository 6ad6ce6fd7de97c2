"""Somebody's session as a browser keeps it, for walks that are not about the door."""

from __future__ import annotations

from typing import Any

from django.conf import settings

from classroom.models import User
from tests.people import signed_in


def session_of(username: str, address: str) -> dict[str, Any]:
    """The cookie of a browser that has signed in at this address."""
    name = settings.SESSION_COOKIE_NAME
    client = signed_in(User.objects.get(username=username))
    return {"name": name, "value": client.cookies[name].value, "url": address}
