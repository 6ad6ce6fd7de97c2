"""The static files collected as an installation has them, in a folder of the test's own."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.conf import settings
from django.core.management import call_command
from django.test import override_settings

from studio.config import settings as real

OF_FOLDERS = "django.contrib.staticfiles.finders.FileSystemFinder"


@contextmanager
def collected_into(folder: Path, *, sources: Path | None = None) -> Iterator[None]:
    """Collect with the app's real storage into `folder`, and serve from there.

    `sources`: a folder that is all there is to collect, in place of the project's own and those
    of the apps.
    """
    only = {"STATICFILES_DIRS": [sources], "STATICFILES_FINDERS": [OF_FOLDERS]} if sources else {}
    with override_settings(
        STATIC_ROOT=folder,
        STORAGES={**settings.STORAGES, "staticfiles": real.STORAGES["staticfiles"]},
        **only,
    ):
        collect()
        yield


def collect() -> None:
    call_command("collectstatic", interactive=False, verbosity=0)
