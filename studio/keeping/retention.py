"""Which backups may go: pure, from names and a day of the school's.

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


def to_let_go(
    names: Iterable[str], now: dt.datetime, *, days: int, weeks: int, zone: dt.tzinfo
) -> list[str]:
    """Names of backups that are neither of the last `days` days nor kept for a week.

    Days begin and end in `zone`, the school's: one backup is made in each of those.
    """
    everything = sorted(names)
    daily = _days(everything, DAILY, zone)
    upgrades = _days(everything, UPGRADE, zone)
    today = now.astimezone(zone).date()
    by_day: dict[dt.date, str] = {}
    by_week: dict[dt.date, str] = {}
    for name, day in daily.items():  # from old to new: the newest of each stays
        by_day[day] = name
        by_week[_monday(day)] = name
    kept = {name for day, name in by_day.items() if today - day < dt.timedelta(days=days)}
    last = _monday(today) - dt.timedelta(weeks=weeks - 1)
    kept |= {name for week, name in by_week.items() if weeks and week >= last}
    kept |= set(list(daily)[-1:])
    oldest = today - dt.timedelta(weeks=max(weeks, 1))
    kept |= {name for name, day in list(upgrades.items())[-UPGRADES:] if day >= oldest}
    return [name for name in everything if name in {**daily, **upgrades} and name not in kept]


def _days(names: Iterable[str], kind: str, zone: dt.tzinfo) -> dict[str, dt.date]:
    taken = {name: taken_at(name, kind) for name in names}
    return {name: at.astimezone(zone).date() for name, at in taken.items() if at is not None}


def _monday(day: dt.date) -> dt.date:
    return day - dt.timedelta(days=day.weekday())
