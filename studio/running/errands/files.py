"""The private files of errands: what was brought, and what came of it."""

from __future__ import annotations

import logging

from django.core.files.base import ContentFile
from django.db import transaction

from classroom.models.waiting_file import private_files
from studio.models import Errand

logger = logging.getLogger(__name__)


def keep_result(errand: Errand, content: bytes) -> None:
    """Store what came of it, inside the caller's transaction; a stray file is cleared in hours."""
    errand.result.save("result", ContentFile(content), save=False)
    Errand.objects.filter(pk=errand.pk).update(result=errand.result.name)


def drop_input(errand: Errand) -> None:
    """What was brought is not needed any more; the file goes when the transaction is through."""
    name = errand.file.name
    Errand.objects.filter(pk=errand.pk).update(file="")
    transaction.on_commit(lambda: drop(name))


def drop(*names: str | None) -> None:
    for name in names:
        if name:
            try:
                private_files().delete(name)
            except OSError:
                logger.warning("an errand's file could not be removed; the next look tries again")
