"""The clock on a school's wall, by which its pages and papers tell the time."""

from __future__ import annotations

import datetime as dt
import zoneinfo
from contextlib import AbstractContextManager

from django.utils import timezone

from classroom.models import School


def on_the_clock_of(school: School) -> AbstractContextManager[None]:
    """Within it, times are shown as that clock shows them."""
    return timezone.override(zoneinfo.ZoneInfo(school.time_zone))


def full_minute(moment: dt.datetime) -> dt.datetime:
    """Up to the full minute, which every clock can show."""
    whole = moment.replace(second=0, microsecond=0)
    return whole if whole == moment else whole + dt.timedelta(minutes=1)
