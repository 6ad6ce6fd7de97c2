"""What the judge keeps from one answer to the next, so that it need not be found again."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from itertools import count
from typing import Any, TypeVar

T = TypeVar("T")
NOTHING = object()


class Kept:
    """What was reckoned, by what it was reckoned from.

    Everything in it follows from its key (and from the job, which never changes), so that an
    answer is the same whether it was kept or found anew.
    """

    def __init__(self) -> None:
        self._now: dict[Hashable, Any] = {}
        self._before: dict[Hashable, Any] = {}
        self._numbers = count()

    def get(self, key: Hashable, make: Callable[[], T]) -> T:
        """What was kept under this key, else what `make` gives."""
        found: T | Any = self._now.get(key, NOTHING)
        if found is NOTHING:
            found = self._before.get(key, NOTHING)
            if found is NOTHING:
                found = make()
            self._now[key] = found
        return found

    def numbers(self, each: Sequence[Hashable]) -> list[int]:
        """A number for each, which stands for it in keys: it is told apart from others faster."""
        return [self.get(("number", one), self._numbers.__next__) for one in each]

    def next_answer(self) -> None:
        """Forget what the last answer had no use for."""
        self._before, self._now = self._now, {}
