"""Which backups may go: pure, from names and a day.

The newest backup of each of the last days stays, and the newest of each of the last weeks.
Those made before an upgrade stay for as many weeks, at most `UPGRADES` of them. Only files that
bear a name of ours are ever touched.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable
from typing import Final

DAILY: Final = "daily"
UPGRADE: Final = "before-upgrade"
UPGRADES: Final = 3
_STAMP: Final = "%Y-%m-%d-%H%M%S"
_NAME: Final = re.compile(r"(daily|before-upgrade)-(\d{4}-\d{2}-\d{2}-\d{6})\.zip")


def name_for(kind: str, now: dt.datetime) -> str:
    """Sorts by age; in UTC, so that it does so when clocks are changed too."""
    return f"{kind}-{now.astimezone(dt.UTC).strftime(_STAMP)}.zip"


def taken_at(name: str, kind: str) -> dt.datetime | None:
    """When the backup of this name was begun; None for any other file."""
    found = _NAME.fullmatch(name)
    if found is None or found[1] != kind:
        return None
    try:
        return dt.datetime.strptime(found[2], _STAMP).replace(tzinfo=dt.UTC)
    except ValueError:
        return None


def to_let_go(names: Iterable[str], now: dt.datetime, *, days: int, weeks: int) -> list[str]:
    """Names of backups that are neither of the last `days` days nor kept for a week."""
    everything = sorted(names)
    daily = {name: at for name in everything if (at := taken_at(name, DAILY)) is not None}
    upgrades = {name: at for name in everything if (at := taken_at(name, UPGRADE)) is not None}
    today = now.astimezone(dt.UTC).date()
    by_day: dict[dt.date, str] = {}
    by_week: dict[dt.date, str] = {}
    for name, at in daily.items():  # from old to new: the newest of each stays
        by_day[at.date()] = name
        by_week[_monday(at.date())] = name
    kept = {name for day, name in by_day.items() if today - day < dt.timedelta(days=days)}
    last = _monday(today) - dt.timedelta(weeks=weeks - 1)
    kept |= {name for week, name in by_week.items() if weeks and week >= last}
    kept |= set(list(daily)[-1:])
    oldest = today - dt.timedelta(weeks=max(weeks, 1))
    kept |= {name for name, at in list(upgrades.items())[-UPGRADES:] if at.date() >= oldest}
    return [name for name in everything if name in {**daily, **upgrades} and name not in kept]


def _monday(day: dt.date) -> dt.date:
    return day - dt.timedelta(days=day.weekday())
