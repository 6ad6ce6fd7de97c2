"""The clock on a school's wall, by which its pages and papers tell the time."""

from __future__ import annotations

import zoneinfo
from contextlib import AbstractContextManager

from django.utils import timezone

from .models import School


def on_the_clock_of(school: School) -> AbstractContextManager[None]:
    """Within it, times are shown as that clock shows them."""
    return timezone.override(zoneinfo.ZoneInfo(school.time_zone))
