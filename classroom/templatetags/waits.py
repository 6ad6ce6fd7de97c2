"""How long a wait is, in words."""

from __future__ import annotations

import datetime as dt
import math

from django import template

register = template.Library()


@register.filter
def minutes(wait: dt.timedelta | None) -> str:
    """“15 minutes”; rounded up, so that nobody comes back too early."""
    if wait is None:
        return "a while"
    count = max(1, math.ceil(wait.total_seconds() / 60))
    return "1 minute" if count == 1 else f"{count} minutes"
