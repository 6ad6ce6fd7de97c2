"""A near miss at the drill press, as it is written down."""

from __future__ import annotations

import datetime as dt
from typing import Any

from classroom.models import Incident
from classroom.safety.incidents import write_down
from tests.people import Cast


def fields(cast: Cast, **more: Any) -> dict[str, Any]:
    return {
        "kind": "near_miss",
        "happened_at": dt.datetime(2026, 11, 25, 14, 30, tzinfo=dt.UTC),
        "place": "Drill press, bay 2",
        "course": cast.course,
        "topic": None,
        "tool": "",
        "what": "The key was left in the chuck.",
        "told": "Head of department",
        "changed": "",
    } | more


def make_incident(cast: Cast, **more: Any) -> Incident:
    return write_down(fields(cast, **more), seats=[cast.seat], acting=cast.teacher)
