"""A teacher's browser for these tests: kept connections, forms, whole answers or an error."""

from __future__ import annotations

import http.client
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from urllib.parse import urlencode

from .house import House

TOKEN = "k" * 32
"""Any secret will do: a form is taken where its token is the cookie's."""

BOUNDARY = "between-the-fields"
ANSWER_SECONDS = 90
QUIET_SECONDS = 20
"""The server closes a connection on which nothing was said for a little more than a minute."""


def in_parts(form: Mapping[str, str | Sequence[str]], name: str, data: bytes) -> bytes:
    """A form with a file, as RFC 7578 has it."""
    line = f"--{BOUNDARY}\r\nContent-Disposition: form-data; name="
    words = "".join(f'{line}"{field}"\r\n\r\n{value}\r\n' for field, value in form.items())
    head = f'{line}"file"; filename="{name}"\r\nContent-Type: application/octet-stream\r\n\r\n'
    return (words + head).encode() + data + f"\r\n--{BOUNDARY}--\r\n".encode()


@dataclass(frozen=True)
class Answer:
    status: int
    body: bytes
    headers: Mapping[str, str]


@dataclass
class Visitor:
    """One browser with one kept connection, made when it is first needed."""

    house: House
    session: str = ""
    connection: http.client.HTTPConnection | None = field(default=None, repr=False)
    used: float = 0.0

    def __enter__(self) -> Visitor:
        return self

    def __exit__(self, *_: object) -> None:
        self.leave()

    def get(self, path: str) -> Answer:
        return self._on_a_fresh_line("GET", path)

    def post(self, path: str, form: Mapping[str, str | Sequence[str]]) -> Answer:
        return self._on_a_fresh_line("POST", path, form)

    def upload(self, path: str, form: Mapping[str, str], name: str, data: bytes) -> Answer:
        """Send a form whose field `file` is a file of this name."""
        return self._on_a_fresh_line("POST", path, form, (name, data))

    def _on_a_fresh_line(
        self,
        method: str,
        path: str,
        form: Mapping[str, str | Sequence[str]] | None = None,
        file: tuple[str, bytes] | None = None,
    ) -> Answer:
        """As a browser does, which trusts no connection that has been quiet for long."""
        if time.monotonic() - self.used > QUIET_SECONDS:
            self.leave()
        self.ask(method, path, form, file)
        return self.hear()

    def ask(
        self,
        method: str,
        path: str,
        form: Mapping[str, str | Sequence[str]] | None = None,
        file: tuple[str, bytes] | None = None,
    ) -> None:
        """Send a request whole; the answer is heard later. Raises OSError."""
        if self.connection is None:
            self.connection = http.client.HTTPConnection(
                "127.0.0.1", self.house.port, timeout=ANSWER_SECONDS
            )
        headers = {"Cookie": f"sessionid={self.session}; csrftoken={TOKEN}"}
        body: bytes | str | None = None
        if form is not None and file is not None:
            body = in_parts({**form, "csrfmiddlewaretoken": TOKEN}, *file)
            headers["Content-Type"] = f"multipart/form-data; boundary={BOUNDARY}"
        elif form is not None:
            body = urlencode({**form, "csrfmiddlewaretoken": TOKEN}, doseq=True)
            headers["Content-Type"] = "application/x-www-form-urlencoded"
        try:
            self.connection.request(method, path, body=body, headers=headers)
        except http.client.HTTPException as broken:
            self.leave()
            raise OSError(str(broken)) from broken
        except OSError:
            self.leave()
            raise

    def hear(self) -> Answer:
        """The whole answer. Raises OSError where it does not come or breaks off."""
        assert self.connection is not None
        try:
            answer = self.connection.getresponse()
            body = answer.read()
        except http.client.HTTPException as broken:
            self.leave()
            raise OSError(f"{type(broken).__name__}: {broken}") from broken
        except OSError:
            self.leave()
            raise
        self.used = time.monotonic()
        if answer.will_close:
            self.leave()
        return Answer(answer.status, body, dict(answer.headers))

    def leave(self) -> None:
        if self.connection is not None:
            self.connection.close()
            self.connection = None
