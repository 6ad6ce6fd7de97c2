"""What the server's door makes of a request before a page's thread sees it."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Iterable
from typing import Any

import pytest

from studio.config.proxies import networks
from studio.serving import bodies
from studio.serving.bodies import Bodies, Message
from studio.serving.door import Door

from .apart import run

Headers = list[tuple[bytes, bytes]]
Told = tuple[int, dict[str, str], bytes]


def echo(environ: dict[str, Any], start: Any) -> Iterable[bytes]:
    """Answers with what was sent, how long that is, and whose address and scheme it is."""
    where = f"{environ['REMOTE_ADDR']} {environ['wsgi.url_scheme']} {environ['CONTENT_LENGTH']} "
    start("200 OK", [("X-Path", environ["PATH_INFO"])])
    return [where.encode(), environ["wsgi.input"].read()]


def words(status: int, environ: dict[str, Any]) -> bytes:
    return f"{status} for {environ['HTTP_ACCEPT_LANGUAGE']}".encode()


def door(application: Any = echo, proxies: tuple[str, ...] = (), **more: Any) -> Door:
    return Door(application, **{"proxies": networks(proxies), "threads": 2, "words": words, **more})


async def ask(
    at: Door, headers: Headers, parts: list[bytes] | None = None, path: str = "/"
) -> Told | None:
    """Status, headers and body of the answer; None where nobody waits for one."""
    coming = list(parts or [])
    said: list[Message] = []

    async def receive() -> Message:
        if parts is None or not coming:
            return {"type": "http.disconnect"}
        part = coming.pop(0)
        return {"type": "http.request", "body": part, "more_body": bool(coming)}

    async def send(message: Message) -> None:
        said.append(message)

    scope = {
        "type": "http",
        "method": "GET" if parts is None else "POST",
        "http_version": "1.1",
        "scheme": "http",
        "path": path,
        "query_string": b"",
        "headers": [(b"accept-language", b"es"), *headers],
        "client": ("192.0.2.1", 40000),
        "server": ("127.0.0.1", 8000),
    }
    await at(scope, receive, send)
    if not said:
        return None
    told = {name.decode(): value.decode() for name, value in said[0]["headers"]}
    return said[0]["status"], told, b"".join(one.get("body", b"") for one in said[1:])


def test_a_page_that_sends_nothing_is_asked_for_nothing() -> None:
    status, headers, body = run(ask(door(), [], path="/é")) or (0, {}, b"")
    assert (status, body) == (200, b"192.0.2.1 http 0 ")
    assert headers["x-path"] == "/é"  # UTF-8 on its way, as PEP 3333 has it


@pytest.mark.parametrize("header", [(b"content-length", b"6"), (b"transfer-encoding", b"chunked")])
def test_a_form_comes_to_the_page_whole(header: tuple[bytes, bytes]) -> None:
    told = run(ask(door(), [header], [b"abc", b"def"]))
    assert told is not None
    assert told[2] == b"192.0.2.1 http 6 abcdef"


def test_a_refusal_is_a_page_and_closes_the_connection() -> None:
    told = run(ask(door(), [(b"content-length", b"%d" % (bodies.MOST_BYTES + 1))], [b"a"]))
    assert told is not None
    status, headers, body = told
    assert (status, body) == (413, b"413 for es")
    assert headers["connection"] == "close"
    assert headers["cache-control"] == "private, no-store"


def test_nobody_is_answered_who_is_gone() -> None:
    assert run(ask(door(), [(b"content-length", b"6")], [])) is None


def test_a_refusal_waits_for_no_pages_thread() -> None:
    let_go = threading.Event()

    def slow(environ: dict[str, Any], start: Any) -> Iterable[bytes]:
        let_go.wait()
        return echo(environ, start)

    async def crowd() -> None:
        at = door(slow, threads=1, bodies=Bodies(most=0))
        page = asyncio.create_task(ask(at, []))
        told = await ask(at, [(b"content-length", b"1")], [b"a"])
        assert told is not None
        assert told[0] == 503
        assert not page.done()
        let_go.set()
        await page

    run(crowd())


def whose(headers: Headers, *proxies: str) -> str:
    told = run(ask(door(proxies=proxies), headers))
    assert told is not None
    return told[2].decode().split(" ")[0]


def test_a_client_speaks_for_no_proxy_by_a_name_that_looks_alike() -> None:
    """`-` and `_` are one to WSGI, so the header with underscores would be the proxy's own word."""
    said = (b"x-forwarded-for", b"203.0.113.7")
    assert whose([said], "192.0.2.1") == "203.0.113.7"
    assert whose([said, (b"x_forwarded_for", b"6.6.6.6")], "192.0.2.1") == "203.0.113.7"
    assert whose([(b"x_forwarded_for", b"6.6.6.6")], "192.0.2.1") == "192.0.2.1"
    assert whose([said]) == "192.0.2.1"


def test_slow_forms_are_counted_by_the_client_and_not_by_the_proxy() -> None:
    at = door(proxies=("192.0.2.1",))
    scope = {"client": ("192.0.2.1", 4), "headers": [(b"x-forwarded-for", b"10.0.0.9")] * 2}
    scope["headers"].append((b"x-forwarded-for", b"2001:db8::1:2"))
    assert at._client(scope) == "2001:db8::/64"
