"""An event loop of a test's own, in a thread: a browser test may have left one running here."""

from __future__ import annotations

import asyncio
from collections.abc import Coroutine
from concurrent.futures import ThreadPoolExecutor
from typing import Any, TypeVar

T = TypeVar("T")


def run(work: Coroutine[Any, Any, T]) -> T:
    with ThreadPoolExecutor(max_workers=1) as own:
        return own.submit(asyncio.run, work).result()
