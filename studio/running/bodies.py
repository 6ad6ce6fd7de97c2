"""What a client sends arrives whole before a page's thread begins with it.

A phone on a weak network, or somebody who means it, sends a form one byte a second. Whoever waits
for that must not be one of the few threads that answer pages: without this door eighty such forms
stop the school. So bodies are received aside, bounded in size, time and number, and for each
client's address too; pages that send nothing pass by.
"""

from __future__ import annotations

import tempfile
import threading
from collections import Counter
from collections.abc import Callable, Iterable
from typing import IO, Any

from .proxies import Application

MOST_BYTES = 64 * 1024 * 1024
"""More than any form of the house takes; each form's own bound is asked later, in words."""
IN_MEMORY = 1024 * 1024
CHUNK = 64 * 1024
FIRST_SECONDS = 20.0
LEAST_BYTES_A_SECOND = 20_000.0
"""A 12 MB photo may take ten minutes. Slower than this no form is ever sent on purpose."""
EACH_CLIENT = 8
"""More than one browser's six connections; a class behind one address sends through a proxy, which
receives for us."""

_BUSY = (
    "503 Service Unavailable",
    b"The server is receiving too many forms at this moment. Nothing was saved. "
    b"Go back and send it again in a moment.\n",
)
_SLOW = (
    "408 Request Timeout",
    b"What you sent did not arrive in time. Nothing was saved. Go back and send it again.\n",
)
_LARGE = (
    "413 Content Too Large",
    b"That is more than this server takes at once. Nothing was saved.\n",
)


class Bodies:
    """The WSGI application behind a door that receives bodies first.

    `most` bodies are received at once in this process, `EACH_CLIENT` of them for one address.
    """

    def __init__(
        self, application: Application, *, most: int, first_seconds: float = FIRST_SECONDS
    ) -> None:
        self.application = application
        self.most = max(1, most)
        self.first_seconds = first_seconds
        self._lock = threading.Lock()
        self._under_way: Counter[str] = Counter()

    def __call__(
        self, environ: dict[str, Any], start_response: Callable[..., Any]
    ) -> Iterable[bytes]:
        length = _length(environ)
        if length == 0:
            return self.application(environ, start_response)
        if length > MOST_BYTES:
            return _refuse(start_response, _LARGE)
        client = str(environ.get("REMOTE_ADDR", ""))
        if not self._enter(client):
            return _refuse(start_response, _BUSY)
        coming = _Coming(environ["wsgi.input"], length, lambda: self._leave(client))
        body = coming.wait(self.first_seconds + length / LEAST_BYTES_A_SECOND)
        if body is None:
            return _refuse(start_response, _LARGE if coming.too_large else _SLOW)
        environ["wsgi.input"] = body
        environ["CONTENT_LENGTH"] = str(coming.size)
        with body:
            return self.application(environ, start_response)

    def _enter(self, client: str) -> bool:
        with self._lock:
            if self._under_way.total() >= self.most or self._under_way[client] >= EACH_CLIENT:
                return False
            self._under_way[client] += 1
            return True

    def _leave(self, client: str) -> None:
        with self._lock:
            self._under_way[client] -= 1
            if not self._under_way[client]:
                del self._under_way[client]


class _Coming:
    """One body on its way, read in a thread of its own, which may be left behind: it ends when
    the refused client's connection is closed, and only then gives its place free."""

    def __init__(self, source: Any, length: int, ended: Callable[[], None]) -> None:
        self.source = source
        self.length = length
        self.ended = ended
        self.size = 0
        self.too_large = False
        self._body: IO[bytes] | None = None
        self._thread = threading.Thread(target=self._receive, name="body", daemon=True)
        self._thread.start()

    def wait(self, seconds: float) -> IO[bytes] | None:
        """The whole body from its beginning; None when it is late, broken off or too large."""
        self._thread.join(timeout=seconds)
        return None if self._thread.is_alive() else self._body

    def _receive(self) -> None:
        try:
            kept = tempfile.SpooledTemporaryFile(max_size=IN_MEMORY)  # noqa: SIM115  handed on
            wanted = MOST_BYTES + 1 if self.length < 0 else self.length
            while self.size < wanted:
                part = self.source.read(min(CHUNK, wanted - self.size))
                if not part:
                    break
                kept.write(part)
                self.size += len(part)
            self.too_large = self.size > MOST_BYTES
            whole = self.length < 0 or self.size == self.length
            if whole and not self.too_large:
                kept.seek(0)
                self._body = kept
            else:
                kept.close()
        except OSError:
            pass  # the client is gone, or the disk is full: there is no body either way
        finally:
            self.ended()


def _length(environ: dict[str, Any]) -> int:
    """Bytes that are coming; 0 for none, -1 where only the end will tell."""
    if environ.get("HTTP_TRANSFER_ENCODING"):
        return -1
    try:
        return max(0, int(environ.get("CONTENT_LENGTH") or 0))
    except ValueError:
        return 0


def _refuse(start_response: Callable[..., Any], answer: tuple[str, bytes]) -> Iterable[bytes]:
    status, words = answer
    start_response(
        status,
        [
            ("Content-Type", "text/plain; charset=utf-8"),
            ("Content-Length", str(len(words))),
            ("Cache-Control", "no-store"),
            ("Retry-After", "5"),
            ("Connection", "close"),
        ],
    )
    return [words]
