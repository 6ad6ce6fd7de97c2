"""The readers of `bench_load`, against a small server of the test's own."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import TypeVar

import pytest

from studio.loading import client
from studio.loading.client import measure
from studio.loading.talking import HOME, Broken, Line, deed, page
from studio.loading.wanted import Deed, Mode, Person, School, Seen
from tests.running.serving.apart import run

Answer = Callable[[bytes, int], bytes]
T = TypeVar("T")

OK = b"HTTP/1.1 200 OK\r\nContent-Length: 2\r\n\r\nok"
BUSY = b"HTTP/1.1 503 Service Unavailable\r\nRetry-After: 15\r\nContent-Length: 0\r\n\r\n"
DATABASE_AWAY = BUSY.replace(b"15", b"5")
BROKEN = b"HTTP/1.1 500 Internal Server Error\r\nContent-Length: 0\r\n\r\n"
TO_SIGN_IN = b"HTTP/1.1 302 Found\r\nLocation: /sign-in/?next=/\r\nContent-Length: 0\r\n\r\n"
GONE_ON = b"HTTP/1.1 302 Found\r\nLocation: /plans/1/\r\nContent-Length: 0\r\n\r\n"
IN_CHUNKS = b"HTTP/1.1 200 OK\r\nTransfer-Encoding: chunked\r\n\r\n3\r\nabc\r\n0\r\n\r\n"


class Server:
    """Answers a request by `answer(request, number of its connection)`; b"" hangs up."""

    def __init__(self, answer: Answer) -> None:
        self.answer = answer
        self.connections = 0
        self.asked: list[bytes] = []

    def run(self, work: Callable[[int], Awaitable[T]]) -> T:
        async def both() -> T:
            server = await asyncio.start_server(self._serve, HOME, 0)
            async with server:
                return await work(server.sockets[0].getsockname()[1])

        return run(both())

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self.connections += 1
        number = self.connections
        try:
            while True:
                request = await self._request(reader)
                self.asked.append(request)
                said = self.answer(request, number)
                writer.write(said)
                await writer.drain()
                if not said:
                    return
        except asyncio.IncompleteReadError:
            return
        finally:
            writer.close()

    async def _request(self, reader: asyncio.StreamReader) -> bytes:
        head = await reader.readuntil(b"\r\n\r\n")
        lines = dict(line.lower().partition(b": ")[::2] for line in head.split(b"\r\n"))
        return head + await reader.readexactly(int(lines.get(b"content-length", 0)))


def school(*pages: str) -> School:
    return School([Person("sessionid=abc", list(pages))], [], [], [], [])


def read(server: Server, mode: Mode, of: School) -> Seen:
    return server.run(lambda port: measure(port, of, mode))


def quick(**more: int | bool | list[Deed]) -> Mode:
    return Mode(**{"name": "quick", "readers": 1, "rate": 50.0, "seconds": 0.3, **more})  # type: ignore[arg-type]


def test_a_reader_reads_page_after_page_over_one_connection() -> None:
    server = Server(lambda request, number: OK)
    seen = read(server, quick(), school("/", "/projects/1/"))
    assert seen.errors == []
    assert len(seen.times_ms) == len(server.asked) > 1
    assert server.connections == 1
    assert {request.split(b" ")[1] for request in server.asked} == {b"/", b"/projects/1/"}
    assert all(b"Cookie: sessionid=abc\r\n" in request for request in server.asked)


def test_many_readers_have_a_connection_each_and_their_own_pages() -> None:
    server = Server(lambda request, number: OK)
    people = [Person(f"sessionid={n}", [f"/projects/{n}/"]) for n in range(5)]
    seen = read(server, quick(readers=5), School(people, [], [], [], []))
    assert seen.errors == []
    assert server.connections == 5
    for request in server.asked:
        number = request.split(b"/")[2]
        assert b"sessionid=" + number in request


def test_warming_readers_each_read_every_page_once() -> None:
    server = Server(lambda request, number: OK)
    people = [Person(f"sessionid={n}", ["/", f"/projects/{n}/"]) for n in range(3)]
    seen = read(server, quick(readers=2, every_page=True), School(people, [], [], [], []))
    assert seen.errors == []
    asked = [request.split(b" ")[1] for request in server.asked]
    assert sorted(asked) == sorted([b"/", *(b"/projects/%d/" % n for n in range(3))] * 2)
    assert server.connections == 2


def test_warming_asks_for_a_print_view_until_it_has_its_turn(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(client, "WARMING_PAUSE", 0.0)
    waits = iter([BUSY, BUSY])
    server = Server(lambda request, number: next(waits, OK) if b"/print/" in request else OK)
    of = school("/")
    of.views.append(Deed("sessionid=abc", "/print/course/1/bags/"))
    seen = read(server, quick(readers=2, every_page=True), of)
    assert seen.errors == []
    assert len(seen.times_ms) == 2  # the pages alone
    assert sum(b"/print/" in request for request in server.asked) == 2 + 2


@pytest.mark.parametrize("said", [TO_SIGN_IN, BROKEN, DATABASE_AWAY])
def test_a_print_view_that_fails_while_warming_is_an_error(said: bytes) -> None:
    server = Server(lambda request, number: said if b"/print/" in request else OK)
    of = school("/")
    of.views.append(Deed("sessionid=abc", "/print/course/1/bags/"))
    (error,) = read(server, quick(every_page=True), of).errors
    assert error.startswith("GET /print/course/1/bags/: ")


@pytest.mark.parametrize("said", [TO_SIGN_IN, BROKEN, BUSY, DATABASE_AWAY])
def test_a_page_that_is_not_the_page_is_an_error(said: bytes) -> None:
    seen = read(Server(lambda request, number: said), quick(), school("/"))
    assert len(seen.errors) == len(seen.times_ms) > 0
    assert seen.errors[0].startswith("GET /: ")


def test_a_connection_that_breaks_in_the_middle_of_an_answer_is_an_error() -> None:
    half = Server(lambda request, number: b"HTTP/1.1 200 OK\r\nContent-Length: 9\r\n\r\nab")

    async def ask(port: int) -> None:
        line = Line(port)
        asking = asyncio.create_task(line.ask(page("/", "", port)))
        while not half.asked:
            await asyncio.sleep(0.01)
        assert line._writer is not None
        line._writer.transport.abort()
        with pytest.raises(Broken):
            await asking

    half.run(ask)


def test_a_kept_connection_that_the_server_closed_is_opened_again_as_a_browser_does() -> None:
    answered: set[int] = set()

    def once_for_each_connection(request: bytes, number: int) -> bytes:
        if number in answered:
            return b""
        answered.add(number)
        return OK

    server = Server(once_for_each_connection)

    async def ask_twice(port: int) -> list[tuple[int, str]]:
        line = Line(port)
        try:
            return [await line.ask(page("/", "", port)) for _ in range(2)]
        finally:
            line.close()

    assert server.run(ask_twice) == [(200, ""), (200, "")]
    assert server.connections == 2


def test_a_server_that_never_answers_anything_is_an_error() -> None:
    seen = read(Server(lambda request, number: b""), quick(), school("/"))
    assert seen.times_ms == []
    assert "closed before any answer" in seen.errors[0]


def test_an_answer_in_chunks_is_read_to_its_end() -> None:
    server = Server(lambda request, number: IN_CHUNKS)
    seen = read(server, quick(), school("/"))
    assert seen.errors == []
    assert server.connections == 1


def test_a_deed_is_done_told_to_wait_or_an_error() -> None:
    said = {
        b"/done/": GONE_ON,
        b"/busy/": BUSY,
        b"/lost/": TO_SIGN_IN,
        b"/fault/": BROKEN,
        b"/away/": DATABASE_AWAY,
    }
    server = Server(lambda request, number: said.get(request.split(b" ")[1], OK))
    deeds = [Deed("c=1", path.decode(), {"a": ["1"]}) for path in said]
    seen = read(server, quick(deeds=deeds), school("/"))
    assert (seen.done, seen.waited) == (1, 1)
    refused = {error.split(":")[0] for error in seen.errors}
    assert refused == {"POST /fault/", "POST /lost/", "POST /away/"}
    assert len(seen.errors) == 3


def test_idle_connections_are_kept_open_and_used_again_at_the_end() -> None:
    server = Server(lambda request, number: OK)
    seen = read(server, quick(idle=7), school("/projects/1/"))
    assert seen.errors == []
    assert server.connections == 8
    asked_of_idle = [request for request in server.asked if b"/sign-in/" in request]
    assert len(asked_of_idle) == 14


def test_a_form_carries_its_fields_its_file_and_the_sign_that_it_is_the_houses(
    tmp_path: Path,
) -> None:
    file = tmp_path / "drawing.svg"
    file.write_bytes(b"<svg/>")
    sent = deed(Deed("sessionid=abc", "/up/", {"metal": ["3"]}, str(file)), 80)
    head, _, body = sent.partition(b"\r\n\r\n")
    assert head.startswith(b"POST /up/ HTTP/1.1\r\n")
    assert f"Content-Length: {len(body)}".encode() in head
    assert b'name="metal"\r\n\r\n3\r\n' in body
    assert b'name="file"; filename="drawing.svg"' in body
    assert b"<svg/>" in body
    token = head.partition(b"X-CSRFToken: ")[2].partition(b"\r\n")[0]
    assert token
    assert b"csrftoken=" + token in head


def test_a_class_print_is_asked_for_and_no_form() -> None:
    sent = deed(Deed("sessionid=abc", "/print/course/1/bags/?as=pdf"), 80)
    assert sent.startswith(b"GET /print/course/1/bags/?as=pdf HTTP/1.1\r\n")
    assert sent.endswith(b"\r\n\r\n")
