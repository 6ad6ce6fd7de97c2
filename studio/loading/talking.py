"""One kept connection to this machine, as a browser keeps it. Standard library only.

That has no client for hundreds of connections in one thread, and a whole client library would
take more of the processor than the pages that are measured.
"""

from __future__ import annotations

import asyncio
import secrets
from pathlib import Path
from urllib.parse import urlencode

from .wanted import Deed

HOME = "127.0.0.1"
"""The only address that anything is ever sent to."""
PATIENCE_SECONDS = 60.0
CSRF = "a" * 32
"""Sent as cookie and as header, as a page of the house would."""


class Broken(Exception):
    """No whole answer came; the text says how."""


class Line:
    """A connection that is opened when it is needed and kept as long as the server keeps it."""

    def __init__(self, port: int) -> None:
        self.port = port
        self.retry_after = ""
        self._reader: asyncio.StreamReader | None = None
        self._writer: asyncio.StreamWriter | None = None

    async def ask(self, request: bytes) -> tuple[int, str]:
        """Status and `Location` of the answer, read to its end. Raises Broken."""
        try:
            async with asyncio.timeout(PATIENCE_SECONDS):
                kept = self._writer is not None
                try:
                    return await self._once(request)
                except (OSError, asyncio.IncompleteReadError, _Gone) as error:
                    self.close()
                    # A browser, too, asks again where a kept connection turns out to be closed.
                    if not (kept and isinstance(error, _Gone)):
                        raise
                    return await self._once(request)
        except TimeoutError:
            self.close()
            raise Broken(f"no answer in {PATIENCE_SECONDS:.0f} s") from None
        except (OSError, asyncio.IncompleteReadError, _Gone, ValueError) as error:
            self.close()
            raise Broken(f"{type(error).__name__}: {error}") from None

    async def _once(self, request: bytes) -> tuple[int, str]:
        if self._writer is None:
            self._reader, self._writer = await asyncio.open_connection(HOME, self.port)
        assert self._reader is not None
        self._writer.write(request)
        try:
            await self._writer.drain()
            head = await self._reader.readuntil(b"\r\n\r\n")
        except asyncio.IncompleteReadError as error:
            if error.partial:
                raise
            raise _Gone("closed before any answer") from None
        except (ConnectionResetError, BrokenPipeError):
            raise _Gone("reset before any answer") from None
        status, headers = _read_head(head)
        self.retry_after = headers.get("retry-after", "")
        await self._read_body(status, headers)
        if headers.get("connection", "").lower() == "close":
            self.close()
        return status, headers.get("location", "")

    async def _read_body(self, status: int, headers: dict[str, str]) -> None:
        assert self._reader is not None
        if status in {204, 304}:
            return
        if "chunked" in headers.get("transfer-encoding", "").lower():
            while size := int((await self._reader.readuntil(b"\r\n")).split(b";")[0], 16):
                await self._reader.readexactly(size + 2)
            await self._reader.readuntil(b"\r\n")
        elif "content-length" in headers:
            await self._reader.readexactly(int(headers["content-length"]))
        else:
            await self._reader.read()
            self.close()

    def close(self) -> None:
        if self._writer is not None:
            self._writer.close()
        self._reader = self._writer = None


class _Gone(Exception):
    """The connection was closed before the first byte of an answer."""


def _read_head(head: bytes) -> tuple[int, dict[str, str]]:
    first, *lines = head.decode("latin-1").split("\r\n")
    headers = {}
    for line in lines:
        name, _, value = line.partition(":")
        headers[name.strip().lower()] = value.strip()
    return int(first.split(" ", 2)[1]), headers


def page(path: str, cookie: str, port: int) -> bytes:
    """A request for a page, as bytes; made once and sent often, so that sending costs nothing."""
    return _head("GET", path, cookie, port) + b"\r\n"


def deed(wanted: Deed, port: int) -> bytes:
    """The request of a deed; a form where something is typed or a file goes along."""
    if not wanted.is_form:
        return page(wanted.path, wanted.cookie, port)
    kind, body = _with_file(wanted) if wanted.file else _typed(wanted)
    head = _head("POST", wanted.path, f"{wanted.cookie}; csrftoken={CSRF}", port)
    more = f"X-CSRFToken: {CSRF}\r\nContent-Type: {kind}\r\nContent-Length: {len(body)}\r\n\r\n"
    return head + more.encode() + body


def _head(verb: str, path: str, cookie: str, port: int) -> bytes:
    cookies = f"Cookie: {cookie}\r\n" if cookie else ""
    return (
        f"{verb} {path} HTTP/1.1\r\nHost: {HOME}:{port}\r\nAccept: text/html\r\n"
        f"Accept-Encoding: gzip\r\n{cookies}"
    ).encode("latin-1")


def _typed(wanted: Deed) -> tuple[str, bytes]:
    return "application/x-www-form-urlencoded", urlencode(wanted.fields, doseq=True).encode()


def _with_file(wanted: Deed) -> tuple[str, bytes]:
    edge = secrets.token_hex(16)
    path = Path(wanted.file)
    parts = [
        f'--{edge}\r\nContent-Disposition: form-data; name="{name}"\r\n\r\n{value}\r\n'.encode()
        for name, values in wanted.fields.items()
        for value in values
    ]
    parts.append(
        f'--{edge}\r\nContent-Disposition: form-data; name="file"; filename="{path.name}"\r\n'
        "Content-Type: application/octet-stream\r\n\r\n".encode()
    )
    parts += [path.read_bytes(), f"\r\n--{edge}--\r\n".encode()]
    return f"multipart/form-data; boundary={edge}", b"".join(parts)
