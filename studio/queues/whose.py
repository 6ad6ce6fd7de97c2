"""Whose workers take up what waits: the house's own, or a district's?"""

from __future__ import annotations

from django.conf import settings


def the_queue_is_ours() -> bool:
    """Whether work waits in the app's own database; a district's queue has its own workers."""
    return settings.TASKS["default"]["BACKEND"] == "django_tasks_db.DatabaseBackend"
