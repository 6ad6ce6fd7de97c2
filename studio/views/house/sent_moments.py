"""Times that a page has sent back, such as which sign-off a teacher looked at."""

from __future__ import annotations

import datetime as dt


def moment(text: str) -> dt.datetime | None:
    """The time, or None for anything that is none, and for one without its zone."""
    try:
        found = dt.datetime.fromisoformat(text[:40])
    except ValueError:
        return None
    return found if found.tzinfo is not None else None
