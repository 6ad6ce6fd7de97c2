"""The server's door: forms are received by the event loop, pages answered by threads.

An ASGI application for HTTP alone. What is behind it is the WSGI application that every other
server of the kind would run: it gets a request once all of it has come.
"""

from __future__ import annotations

import io
from collections.abc import Awaitable, Callable, Iterable, Mapping
from typing import IO, Any

from a2wsgi import WSGIMiddleware

from classroom.signin.client_address import client_key
from studio.config.not_received import BUSY, FULL, LARGE, LATE
from studio.config.proxies import Application, Network, client_address, trusting

from .bodies import Bodies, HungUp, Message, NotReceived, Receive

Scope = dict[str, Any]
Send = Callable[[Message], Awaitable[None]]
Words = Callable[[int, dict[str, Any]], bytes]
"""The page, as HTML, that says a status to the client of an environment."""

_BODY, _STATUS = "benchledger.body", "benchledger.status"
_REASONS = {
    BUSY: "Service Unavailable",
    LATE: "Request Timeout",
    LARGE: "Content Too Large",
    FULL: "Insufficient Storage",
}


class Door:
    """`application` behind its doors; `threads` of its pages are answered at once.

    `words` makes the page of a refusal, which waits for no page's thread.
    """

    def __init__(
        self,
        application: Application,
        *,
        proxies: tuple[Network, ...],
        threads: int,
        words: Words,
        bodies: Bodies | None = None,
    ) -> None:
        self.proxies = proxies
        self.bodies = bodies or Bodies()
        self._pages = _in_threads(_with_body(trusting(application, proxies)), threads)
        self._refusals = _in_threads(_refusing(words), 1)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            return
        # `X_Forwarded_For` would be the same to WSGI as the name that proxies write themselves,
        # so a client could speak in their place. No header has such a name on purpose.
        scope = {**scope, "headers": [one for one in scope["headers"] if b"_" not in one[0]]}
        headers = dict(scope["headers"])
        length = _length(headers)
        if length == 0:
            await self._pages({**scope, _BODY: io.BytesIO()}, receive, send)
            return
        try:
            body = await self.bodies.received(length, self._client(scope), receive)
        except HungUp:
            return
        except NotReceived as refusal:
            await self._refusals({**scope, _STATUS: refusal.status}, receive, send)
            return
        with body:
            await self._pages({**scope, _BODY: body}, receive, send)

    def _client(self, scope: Scope) -> str:
        peer = (scope.get("client") or ("", 0))[0]
        said = [value for name, value in scope["headers"] if name == b"x-forwarded-for"]
        return client_key(client_address(peer, b",".join(said).decode("latin-1"), self.proxies))


def _in_threads(application: Any, threads: int) -> Any:
    """Untyped, as both sides have a type of their own for the same two protocols."""
    return WSGIMiddleware(application, threads)


def _length(headers: Mapping[bytes, bytes]) -> int:
    """Bytes that are coming; 0 for none, -1 where only the end will tell."""
    if b"transfer-encoding" in headers:
        return -1
    try:
        return max(0, int(headers.get(b"content-length", b"0")))
    except ValueError:
        return 0


def _with_body(application: Application) -> Application:
    def page(environ: dict[str, Any], start_response: Callable[..., Any]) -> Iterable[bytes]:
        body: IO[bytes] = environ.pop("asgi.scope")[_BODY]
        environ["wsgi.input"] = body
        environ["CONTENT_LENGTH"] = str(body.seek(0, io.SEEK_END))
        body.seek(0)
        return application(environ, start_response)

    return page


def _refusing(words: Words) -> Application:
    def page(environ: dict[str, Any], start_response: Callable[..., Any]) -> Iterable[bytes]:
        status: int = environ.pop("asgi.scope")[_STATUS]
        html = words(status, environ)
        start_response(
            f"{status} {_REASONS[status]}",
            [
                ("Content-Type", "text/html; charset=utf-8"),
                ("Content-Length", str(len(html))),
                ("Cache-Control", "private, no-store"),
                ("Retry-After", "5"),
                ("Connection", "close"),
            ],
        )
        return [html]

    return page
