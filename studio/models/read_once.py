"""What a row's JSON says, read once for each row."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

from django.db import models

Said = TypeVar("Said")


def read_once(row: models.Model, field: str, data: Any, read: Callable[[Any], Said]) -> Said:
    """`read(data)`, kept with the row until it holds other data for `field`.

    It goes by the very object that the row holds: loading the row again (`refresh_from_db`) and
    giving the field another value both put another object there. JSON that is changed in place is
    not noticed: give the field a new value instead.
    """
    kept: dict[str, tuple[Any, Said]] = row.__dict__.setdefault("_read_once", {})
    known = kept.get(field)
    if known is None or known[0] is not data:
        known = kept[field] = (data, read(data))
    return known[1]


def keep_read(row: models.Model, field: str, data: Any, said: Any) -> None:
    """Keep with the row what its `data` for `field` say, where somebody has read them before."""
    row.__dict__.setdefault("_read_once", {})[field] = (data, said)
