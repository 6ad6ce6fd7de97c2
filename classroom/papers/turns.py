"""Work of seconds that a page does itself: one at a time in a web process, and few who wait.

What may take longer goes to a worker. This is for what a person looks at at once, such as a
class's papers in the browser: many of them together would hold up everybody's pages.
"""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

from django.utils.translation import gettext

from classroom.refusals import Busy


class Turns:
    """One at work, `waiting` requests that wait for up to `seconds`; whoever comes then is told.

    `each`: so many of one person's at once, at work and waiting; enough for a second window.
    """

    def __init__(self, *, waiting: int, each: int, seconds: float) -> None:
        self._work = threading.Lock()
        self._seconds = seconds
        self._most = 1 + waiting
        self._each = each
        self._here: Counter[int] = Counter()
        self._counting = threading.Lock()

    @contextmanager
    def turn(self, user_pk: int) -> Iterator[None]:
        """Raises Busy at once, or after `seconds` without a turn."""
        with self._counting:
            if self._here[user_pk] >= self._each or self._here.total() >= self._most:
                raise _not_now()
            self._here[user_pk] += 1
        try:
            if not self._work.acquire(timeout=self._seconds):
                raise _not_now()
            try:
                yield
            finally:
                self._work.release()
        finally:
            with self._counting:
                self._here[user_pk] -= 1
                self._here += Counter()  # forgets whoever has none left


def _not_now() -> Busy:
    return Busy(gettext("Several pages of this kind are being made just now. Try in a moment."))


IN_THE_WEB: Final = Turns(waiting=3, each=2, seconds=8.0)
"""Of a web process, which has several times as many threads for pages."""
