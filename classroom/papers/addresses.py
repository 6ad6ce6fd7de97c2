"""The address at which people reach the app: the school's own where it says one.

Behind a proxy, or opened by a name that only the office's computer knows, a request's own address
is not the one that students can type.
"""

from __future__ import annotations

import re
from urllib.parse import urljoin, urlsplit

from django.core.exceptions import ValidationError
from django.http import HttpRequest
from django.utils.translation import gettext as _

from classroom.models import User

_HOST = re.compile(r"[a-z0-9]([a-z0-9.-]*[a-z0-9])?|[0-9a-f:]+")
_PATH = re.compile(r"(/[A-Za-z0-9._~-]+)*/?")


def tidy_address(typed: str) -> str:
    """The address with a slash at its end; "" stays. Names that only the school knows will do.

    Raises ValidationError for what is no address of a whole site.
    """
    text = typed.strip()
    if not text:
        return ""
    try:
        parts = urlsplit(text)
        host, port = parts.hostname or "", parts.port
    except ValueError:
        parts, host, port = urlsplit(""), "", None
    if parts.scheme not in ("http", "https") or not _HOST.fullmatch(host):
        raise ValidationError(
            _(
                "Write the whole address, such as https://bench.school.example/ or http://bench:8000/."
            )
        )
    if parts.username or parts.password or parts.query or parts.fragment:
        raise ValidationError(_("Only the address of the site, without anything after it."))
    if not _PATH.fullmatch(parts.path):
        raise ValidationError(_("Only the address of the site, without anything after it."))
    shown = f"[{host}]" if ":" in host else host
    where = shown if port is None else f"{shown}:{port}"
    return f"{parts.scheme}://{where}{parts.path.rstrip('/')}/"


def full_address(request: HttpRequest, path: str = "/") -> str:
    """What is printed or told of an address on this site, `path` beginning with a slash."""
    user = request.user
    own = user.school.address_for_students if isinstance(user, User) else ""
    return urljoin(own, path.lstrip("/")) if own else request.build_absolute_uri(path)
