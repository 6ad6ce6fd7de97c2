"""Holding a project and its pattern, always in this order.

On PostgreSQL two steps that take the same rows in different orders stop each other for good
(one is then broken off as a deadlock). Whatever changes both therefore holds the project first.
On SQLite the transaction holds the whole database already, and this only reads.
"""

from __future__ import annotations

from studio.models import Pattern, Project


def hold(pattern: Pattern) -> Pattern:
    """The pattern's row as it is now, held with its project until the transaction ends."""
    Project.objects.select_for_update().get(pk=pattern.project_id)
    return Pattern.objects.select_for_update().get(pk=pattern.pk)
