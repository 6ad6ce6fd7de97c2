"""The readers: a process of its own, so that measuring does not sit in the server's.

Reads one JSON object from standard input, `{"port", "school", "modes"}`, and writes one line for
each mode as it ends. Standard library only. It shares the machine with the server that it
measures, so it does as little as it can: requests are made beforehand, answers are not parsed.
"""

from __future__ import annotations

import asyncio
import json
import random
import sys
import time
from dataclasses import asdict

from .talking import Broken, Line, deed, page
from .wanted import Deed, Mode, School, Seen

BUSY_AGAIN = "15"
"""`Retry-After` of the queue's own "busy" (`classroom.refusals.Busy`); other doors say others."""

WARMING_PAUSE = 0.5
"""Seconds until a print view that found no turn is asked for again, while pages are warmed."""

OPENED_AT_ONCE = 20
"""Idle connections are opened so many at a time: they stand for people who came one by one."""
OPEN_TO_ALL = "/sign-in/"


async def measure(port: int, school: School, mode: Mode) -> Seen:
    seen = Seen(mode.name)
    if mode.every_page:
        await asyncio.gather(*(_read_all(port, school, seen) for _ in range(mode.readers)))
        return seen
    kept = await _open_idle(port, mode.idle, seen)
    loop = asyncio.get_running_loop()
    end = loop.time() + mode.seconds
    readers = [
        asyncio.create_task(_read(port, school, mode, number, end, seen))
        for number in range(mode.readers)
    ]
    doers = [asyncio.create_task(_do(port, one, mode.seconds / 10, seen)) for one in mode.deeds]
    await asyncio.gather(*readers)
    await asyncio.gather(*doers)
    await _use_idle_again(port, kept, seen)
    return seen


async def _read(port: int, school: School, mode: Mode, number: int, end: float, seen: Seen) -> None:
    """One person reads page after page, with pauses, over one kept connection.

    A single reader stands for everybody in turn, so that one and many read the same pages.
    """
    chance = random.Random(f"{mode.name} {number}")  # noqa: S311  no secret
    alone = mode.readers == 1
    people = school.people if alone else [school.people[number % len(school.people)]]
    requests = [page(path, person.cookie, port) for person in people for path in person.pages]
    if alone:
        chance.shuffle(requests)
    line = Line(port)
    pause = mode.readers / mode.rate
    place = chance.randrange(len(requests))
    await asyncio.sleep(chance.uniform(0, min(pause, mode.seconds / 2)))
    while asyncio.get_running_loop().time() < end:
        await _timed(line, requests[place % len(requests)], seen)
        place += 1
        await asyncio.sleep(pause if alone else chance.uniform(0.5, 1.5) * pause)
    line.close()


async def _read_all(port: int, school: School, seen: Seen) -> None:
    """Over one connection, so in one of the server's processes.

    Print views too, each as often as it takes to have a turn.
    """
    whose = {path: person.cookie for person in school.people for path in person.pages}
    line = Line(port)
    for path, cookie in whose.items():
        await _timed(line, page(path, cookie, port), seen)
    for view in school.views:
        while await _has_to_wait(line, deed(view, port), seen):
            await asyncio.sleep(WARMING_PAUSE)
    line.close()


async def _has_to_wait(line: Line, request: bytes, seen: Seen) -> bool:
    try:
        status, where = await line.ask(request)
    except Broken as error:
        seen.errors.append(f"{_first_line(request)}: {error}")
        return False
    if status == 503 and line.retry_after == BUSY_AGAIN:
        return True
    if status != 200:
        seen.errors.append(f"{_first_line(request)}: {status} {where}".rstrip())
    return False


async def _timed(line: Line, request: bytes, seen: Seen) -> None:
    began = time.perf_counter()
    try:
        status, where = await line.ask(request)
    except Broken as error:
        seen.errors.append(f"{_first_line(request)}: {error}")
        return
    seen.times_ms.append((time.perf_counter() - began) * 1000)
    if status != 200:
        seen.errors.append(f"{_first_line(request)}: {status} {where}".rstrip())


async def _do(port: int, wanted: Deed, after: float, seen: Seen) -> None:
    """A deed may be refused with "busy" by its queue; any other refusal is an error."""
    request = deed(wanted, port)
    await asyncio.sleep(after)
    line = Line(port)
    began = time.perf_counter()
    try:
        status, where = await line.ask(request)
    except Broken as error:
        seen.errors.append(f"{_first_line(request)}: {error}")
        return
    finally:
        line.close()
    seen.deed_times_ms.append((time.perf_counter() - began) * 1000)
    if status == 503 and line.retry_after == BUSY_AGAIN:
        seen.waited += 1
    elif status in {200, 302, 303} and OPEN_TO_ALL not in where:
        seen.done += 1
    else:
        seen.errors.append(f"{_first_line(request)}: {status} {where}".rstrip())


async def _open_idle(port: int, count: int, seen: Seen) -> list[Line]:
    """Connections over which one page was read, and which are then kept open."""
    request = page(OPEN_TO_ALL, "", port)
    kept = [Line(port) for _ in range(count)]
    for first in range(0, count, OPENED_AT_ONCE):
        group = kept[first : first + OPENED_AT_ONCE]
        await asyncio.gather(*(_quietly(line, request, seen) for line in group))
    return kept


async def _use_idle_again(port: int, kept: list[Line], seen: Seen) -> None:
    request = page(OPEN_TO_ALL, "", port)
    for first in range(0, len(kept), OPENED_AT_ONCE):
        group = kept[first : first + OPENED_AT_ONCE]
        await asyncio.gather(*(_quietly(line, request, seen) for line in group))
    for line in kept:
        line.close()


async def _quietly(line: Line, request: bytes, seen: Seen) -> None:
    try:
        status, _ = await line.ask(request)
        if status != 200:
            seen.errors.append(f"idle connection: {status}")
    except Broken as error:
        seen.errors.append(f"idle connection: {error}")


def _first_line(request: bytes) -> str:
    verb, path, _ = request.split(b" ", 2)
    return f"{verb.decode()} {path.decode()}"


def main() -> None:
    asked = json.load(sys.stdin)
    school = School.from_json(asked["school"])
    for mode in asked["modes"]:
        seen = asyncio.run(measure(asked["port"], school, Mode.from_json(mode)))
        print(json.dumps(asdict(seen)), flush=True)


if __name__ == "__main__":
    main()
