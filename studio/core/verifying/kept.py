"""What the judge keeps from one answer to the next, so that it need not be found again."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import Any, TypeVar

T = TypeVar("T")


class Kept:
    """What was reckoned, by what it was reckoned from.

    Everything in it follows from its key (and from the job, which never changes), so that an
    answer is the same whether it was kept or found anew.
    """

    def __init__(self) -> None:
        self._now: dict[Hashable, Any] = {}
        self._before: dict[Hashable, Any] = {}

    def get(self, key: Hashable, make: Callable[[], T]) -> T:
        """What was kept under this key, else what `make` gives."""
        if key in self._now:
            found: T = self._now[key]
            return found
        found = self._before[key] if key in self._before else make()
        self._now[key] = found
        return found

    def next_answer(self) -> None:
        """Forget what the last answer had no use for."""
        self._before, self._now = self._now, {}
