"""What a client sends arrives whole before a page's thread begins with it.

A phone on a weak network, or somebody who means it, sends a form one byte a second, or begins one
and says nothing more. Whoever waits for that must not be one of the few threads that answer pages.
So bodies are received by the server's one event loop, bounded in size, pace and number, and what
comes slower than any form on purpose is bounded for each client's address too.

Nothing here is locked: one loop runs all of it.
"""

from __future__ import annotations

import asyncio
import contextlib
import tempfile
from collections import Counter
from collections.abc import Awaitable, Callable, Iterator
from time import monotonic
from typing import IO, Any

from classroom.files.full_disk import is_full
from studio.config.not_received import BUSY, FULL, LARGE, LATE

MOST_BYTES = 64 * 1024 * 1024
"""More than any form of the house takes; each form's own bound is asked later, in words."""
MOST_AT_ONCE = 60
"""Two classes that hand in at the same moment, in each process."""
IN_MEMORY = 1024 * 1024
FIRST_SECONDS = 20.0
LEAST_BYTES_A_SECOND = 20_000.0
"""A 12 MB photo may take ten minutes. Slower than this no form is ever sent on purpose."""
SLOW_AFTER = 2.0
"""Seconds after which a body is looked at: does it keep to that rate?"""
SLOW_EACH = 4
"""Slow bodies of one address at a time. A whole school may be one address, so others have no such
bound."""

Message = dict[str, Any]
Receive = Callable[[], Awaitable[Message]]
"""As in ASGI's HTTP protocol: `http.request` with a part of the body, or `http.disconnect`."""


class NotReceived(Exception):
    """No whole body came; `status` says why (BUSY, LATE, LARGE, FULL)."""

    def __init__(self, status: int) -> None:
        super().__init__(status)
        self.status = status


class HungUp(Exception):
    """The client is gone; nobody waits for an answer."""


class Bodies:
    """The bodies that are on their way to this process, `most` at once."""

    def __init__(
        self,
        *,
        most: int = MOST_AT_ONCE,
        first_seconds: float = FIRST_SECONDS,
        slow_after: float = SLOW_AFTER,
    ) -> None:
        self.most = most
        self.first_seconds = first_seconds
        self.slow_after = min(slow_after, first_seconds)
        self.under_way = 0
        self.slow: Counter[str] = Counter()

    async def received(self, length: int, client: str, receive: Receive) -> IO[bytes]:
        """The whole body as a file, which the caller closes.

        `length` is what the client says it sends, -1 where only the end will tell; `client` is
        whose it is. Raises NotReceived and HungUp.
        """
        if length > MOST_BYTES:
            raise NotReceived(LARGE)
        if self.under_way >= self.most:
            raise NotReceived(BUSY)
        coming = _Coming(client)
        with self._counted(coming), contextlib.ExitStack() as unless_whole:
            kept = tempfile.SpooledTemporaryFile(max_size=IN_MEMORY)  # noqa: SIM115  handed on
            unless_whole.callback(kept.close)
            try:
                await self._receive(coming, receive, kept)
                kept.seek(0)
            except OSError as error:  # our own disk
                raise NotReceived(FULL if is_full(error) else LATE) from error
            if 0 <= length != coming.size:
                raise NotReceived(LATE)
            unless_whole.pop_all()
            return kept

    @contextlib.contextmanager
    def _counted(self, coming: _Coming) -> Iterator[None]:
        self.under_way += 1
        try:
            yield
        finally:
            self.under_way -= 1
            if coming.is_counted_slow:
                self.slow[coming.client] -= 1
                self.slow += Counter()  # forgets whoever has none left

    async def _receive(self, coming: _Coming, receive: Receive, kept: IO[bytes]) -> None:
        more = True
        while more:
            message = await self._next(coming, receive)
            if message["type"] != "http.request":
                raise HungUp
            part: bytes = message.get("body", b"")
            coming.size += len(part)
            if coming.size > MOST_BYTES:
                raise NotReceived(LARGE)
            kept.write(part)
            more = message.get("more_body", False)

    async def _next(self, coming: _Coming, receive: Receive) -> Message:
        """The next part, for which one question is asked however often the clock is looked at."""
        asking = asyncio.ensure_future(receive())
        try:
            while True:
                patience = self._patience(coming)
                await asyncio.wait({asking}, timeout=patience)
                if asking.done():
                    return asking.result()
        finally:
            asking.cancel()

    def _patience(self, coming: _Coming) -> float:
        """Seconds until this body is looked at again. Raises NotReceived where it is too slow.

        What came counts, not what was announced: whoever sends a byte a second of a large file
        has no longer than one who sends a small form so.
        """
        elapsed = monotonic() - coming.began
        left = self.first_seconds + coming.size / LEAST_BYTES_A_SECOND - elapsed
        if left <= 0:
            raise NotReceived(LATE)
        is_slow = coming.size < LEAST_BYTES_A_SECOND * elapsed
        if elapsed >= self.slow_after and is_slow and not coming.is_counted_slow:
            if self.slow[coming.client] >= SLOW_EACH:
                raise NotReceived(BUSY)
            self.slow[coming.client] += 1
            coming.is_counted_slow = True
        return min(left, self.slow_after)


class _Coming:
    """One body on its way."""

    def __init__(self, client: str) -> None:
        self.client = client
        self.began = monotonic()
        self.size = 0
        self.is_counted_slow = False
