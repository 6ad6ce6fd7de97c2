"""A term has a past: deeds of the demo happen on the day the story says."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from contextlib import contextmanager
from zoneinfo import ZoneInfo

import time_machine

ZONE = ZoneInfo("America/Halifax")


@contextmanager
def on_day(days_ago: int, hour: int = 10, minute: int = 0) -> Iterator[dt.datetime]:
    """Everything inside happens that many days ago at that hour on the school's clock."""
    day = dt.datetime.now(ZONE).date() - dt.timedelta(days=days_ago)
    moment = dt.datetime.combine(day, dt.time(hour, minute), tzinfo=ZONE)
    with time_machine.travel(moment, tick=True):
        yield moment
