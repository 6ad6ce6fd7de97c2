"""What a client sends arrives whole before a page's thread begins with it.

A phone on a weak network, or somebody who means it, sends a form one byte a second. Whoever waits
for that must not be one of the few threads that answer pages: without this door eighty such forms
stop the school. So bodies are received aside, bounded in size, time and number; those that come
slower than any form on purpose are bounded for each client's address too. Pages that send nothing
pass by.
"""

from __future__ import annotations

import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterable
from typing import IO, Any, Final

from classroom.full_disk import is_full

from .proxies import Application

MOST_BYTES = 64 * 1024 * 1024
"""More than any form of the house takes; each form's own bound is asked later, in words."""
IN_MEMORY = 1024 * 1024
CHUNK = 64 * 1024
FIRST_SECONDS = 20.0
LEAST_BYTES_A_SECOND = 20_000.0
"""A 12 MB photo may take ten minutes. Slower than this no form is ever sent on purpose."""
SLOW_AFTER = 2.0
"""Seconds after which a body is looked at: does it keep to that rate?"""
SLOW_EACH = 4
"""Slow bodies of one address at a time. A whole school may be one address, so others have no such
bound."""

BUSY: Final = 503
LATE: Final = 408
LARGE: Final = 413
FULL: Final = 507
_REASONS = {
    BUSY: "Service Unavailable",
    LATE: "Request Timeout",
    LARGE: "Content Too Large",
    FULL: "Insufficient Storage",
}
Words = Callable[[int, dict[str, Any]], bytes]
"""The page, as HTML, that says one of these to the client of an environment."""


class Bodies:
    """The WSGI application behind a door that receives bodies first.

    `most` bodies are received at once in this process. `words` makes the page of a refusal.
    """

    def __init__(
        self,
        application: Application,
        *,
        most: int,
        words: Words,
        first_seconds: float = FIRST_SECONDS,
        slow_after: float = SLOW_AFTER,
    ) -> None:
        self.application = application
        self.most = max(1, most)
        self.words = words
        self.first_seconds = first_seconds
        self.slow_after = min(slow_after, first_seconds)
        self._lock = threading.Lock()
        self._under_way = 0
        self._slow: Counter[str] = Counter()

    def __call__(
        self, environ: dict[str, Any], start_response: Callable[..., Any]
    ) -> Iterable[bytes]:
        length = _length(environ)
        if length == 0:
            return self.application(environ, start_response)
        if length > MOST_BYTES:
            return self._refuse(LARGE, environ, start_response)
        with self._lock:
            if self._under_way >= self.most:
                return self._refuse(BUSY, environ, start_response)
            self._under_way += 1
        coming = _Coming(environ["wsgi.input"], length, self._ended)
        refusal = self._wait(coming, length, str(environ.get("REMOTE_ADDR", "")))
        if refusal or coming.body is None:
            return self._refuse(refusal or coming.refusal, environ, start_response)
        environ["wsgi.input"] = coming.body
        environ["CONTENT_LENGTH"] = str(coming.size)
        with coming.body:
            return self.application(environ, start_response)

    def _wait(self, coming: _Coming, length: int, client: str) -> int:
        """Wait for the body, and the status of a refusal or 0."""
        last = time.monotonic() + self.first_seconds + max(0, length) / LEAST_BYTES_A_SECOND
        while not coming.ended_within(self.slow_after):
            if time.monotonic() > last:
                return LATE
            if not coming.is_slow or coming.client:
                continue
            with self._lock:
                if self._slow[client] >= SLOW_EACH:
                    return BUSY
                self._slow[client] += 1
            coming.client = client
        return 0

    def _ended(self, coming: _Coming) -> None:
        with self._lock:
            self._under_way -= 1
            if coming.client:
                self._slow[coming.client] -= 1
                if not self._slow[coming.client]:
                    del self._slow[coming.client]

    def _refuse(
        self, status: int, environ: dict[str, Any], start_response: Callable[..., Any]
    ) -> Iterable[bytes]:
        page = self.words(status, environ)
        start_response(
            f"{status} {_REASONS[status]}",
            [
                ("Content-Type", "text/html; charset=utf-8"),
                ("Content-Length", str(len(page))),
                ("Cache-Control", "private, no-store"),
                ("Retry-After", "5"),
                ("Connection", "close"),
            ],
        )
        return [page]


class _Coming:
    """One body on its way, read in a thread of its own, which may be left behind: it ends when
    the refused client's connection is closed, and only then gives its place free."""

    def __init__(self, source: Any, length: int, ended: Callable[[_Coming], None]) -> None:
        self.source = source
        self.length = length
        self.ended = ended
        self.client = ""
        """Whose slow body this is counted as."""
        self.size = 0
        self.body: IO[bytes] | None = None
        self.refusal = LATE
        self._began = time.monotonic()
        self._thread = threading.Thread(target=self._receive, name="body", daemon=True)
        self._thread.start()

    def ended_within(self, seconds: float) -> bool:
        self._thread.join(timeout=seconds)
        return not self._thread.is_alive()

    @property
    def is_slow(self) -> bool:
        return self.size < LEAST_BYTES_A_SECOND * (time.monotonic() - self._began)

    def _receive(self) -> None:
        kept = tempfile.SpooledTemporaryFile(max_size=IN_MEMORY)  # noqa: SIM115  handed on
        try:
            wanted = MOST_BYTES + 1 if self.length < 0 else self.length
            while self.size < wanted:
                part = self.source.read(min(CHUNK, wanted - self.size))
                if not part:
                    break
                kept.write(part)
                self.size += len(part)
            if self.size > MOST_BYTES:
                self.refusal = LARGE
            elif self.length < 0 or self.size == self.length:
                kept.seek(0)
                self.body = kept
        except OSError as error:  # the client is gone, or our own disk is full
            self.refusal = FULL if is_full(error) else LATE
        finally:
            if self.body is None:
                kept.close()
            self.ended(self)


def _length(environ: dict[str, Any]) -> int:
    """Bytes that are coming; 0 for none, -1 where only the end will tell."""
    if environ.get("HTTP_TRANSFER_ENCODING"):
        return -1
    try:
        return max(0, int(environ.get("CONTENT_LENGTH") or 0))
    except ValueError:
        return 0
