"""A print that was asked for, to be asked for once more where papers are made.

Drawing up a class's papers takes seconds, as does making their PDF. So a page that is asked for
a PDF only writes down what it was asked (`AskedPaper`); outside the web process the very same view
answers a `PaperRequest`, as the same person and under the same rules, with the paper's HTML.
"""

from __future__ import annotations

import io
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any, cast
from urllib.parse import urlsplit

from django.core.exceptions import PermissionDenied
from django.core.handlers.wsgi import WSGIRequest
from django.http import HttpRequest, HttpResponse
from django.urls import resolve

from classroom.models import User
from classroom.wording.school_clock import on_the_clock_of


@dataclass(frozen=True, slots=True)
class AskedPaper:
    """Which paper, and what its view may ask of a request: address, host and some cookies."""

    path: str
    query: str
    host: str
    secure: bool
    cookies: Mapping[str, str]

    @classmethod
    def of(cls, request: HttpRequest, language: str, cookies: tuple[str, ...]) -> AskedPaper:
        """In the language that is on, as the choice of a session is not known elsewhere."""
        query = request.GET.copy()
        query["lang"] = language
        return cls(
            path=request.path_info,
            query=query.urlencode(),
            host=request.get_host(),
            secure=request.is_secure(),
            cookies={name: request.COOKIES[name] for name in cookies if name in request.COOKIES},
        )

    def to_json(self) -> dict[str, Any]:
        return asdict(self)

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> AskedPaper:
        return cls(**data)


class PaperRequest(WSGIRequest):
    """The request once more, as `user`; nothing of the first one's session comes along."""

    def __init__(self, asked: AskedPaper, user: User) -> None:
        where = urlsplit(f"//{asked.host}")
        super().__init__(
            {
                "REQUEST_METHOD": "GET",
                "PATH_INFO": asked.path.encode().decode("latin-1"),
                "QUERY_STRING": asked.query,
                "HTTP_HOST": asked.host,
                "SERVER_NAME": where.hostname or "",
                "SERVER_PORT": str(where.port or (443 if asked.secure else 80)),
                "wsgi.url_scheme": "https" if asked.secure else "http",
                "wsgi.input": io.BytesIO(),
            }
        )
        self.COOKIES = dict(asked.cookies)
        self.user = user
        self.session = cast(Any, {})
        self._host = asked.host

    def get_host(self) -> str:
        """Found lawful when it was asked; a worker elsewhere need not know the school's hosts."""
        return self._host


class PaperHtml(HttpResponse):
    """How a print's view answers a `PaperRequest`; `paper` is the format, "a4" or "letter"."""

    def __init__(self, html: str, paper: str) -> None:
        super().__init__(html)
        self.paper = paper


def drawn_up(asked: AskedPaper, user: User) -> tuple[str, str]:
    """The paper's HTML and format.

    Raises what the view raises: Refused, Http404 for what is out of the person's reach by now,
    and PermissionDenied, also for somebody who may not sign in any more.
    """
    view = resolve(asked.path)
    request = PaperRequest(asked, user)
    request.resolver_match = view
    if not user.is_active:
        raise PermissionDenied
    with on_the_clock_of(user.school):
        answer = view.func(request, *view.args, **view.kwargs)
    if not isinstance(answer, PaperHtml):
        raise TypeError(f"{asked.path} did not answer with a paper")
    return answer.content.decode(), answer.paper
