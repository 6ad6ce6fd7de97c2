"""Every UPDATE that a test sends is looked at: does its guard hold when two come at once?

A guarded update waits for the other's row lock and then looks at its conditions again. PostgreSQL
looks only at conditions on the row itself; those inside a subquery of the same table (which
Django writes as soon as a condition crosses a relation) keep their old answer, and both win.
Source: PostgreSQL manual, "Transaction Isolation", 13.2.1 Read Committed.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.backends.signals import connection_created

UPDATE = re.compile(r'^UPDATE "(?P<table>\w+)" SET .* WHERE .*\(SELECT .* FROM "(?P=table)"', re.S)


def looked_at(execute: Callable[..., Any], sql: str, params: Any, many: bool, context: Any) -> Any:
    if UPDATE.search(sql):
        raise AssertionError(
            "The conditions of this update stand in a subquery, so two at once may both win. "
            f"Write them on the row's own columns (`plan__in=…`, not `plan__state=…`): {sql}"
        )
    return execute(sql, params, many, context)


def look_at_updates() -> None:
    """Called once, before the first connection is made."""

    def watch(connection: BaseDatabaseWrapper, **kwargs: Any) -> None:
        if looked_at not in connection.execute_wrappers:
            connection.execute_wrappers.append(looked_at)

    connection_created.connect(watch, weak=False, dispatch_uid="guarded updates")
