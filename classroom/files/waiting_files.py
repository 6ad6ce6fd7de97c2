"""Keeping a file between two pages: set aside, found again by its owner, cleared in some hours."""

from __future__ import annotations

import datetime as dt
import logging
from collections.abc import Mapping
from typing import Any

from django.core.files.base import ContentFile
from django.core.validators import slug_re
from django.db import models, transaction
from django.utils import timezone

from classroom.models import User, WaitingFile, subject_of
from classroom.models.waiting_file import FOLDER, private_files

logger = logging.getLogger(__name__)

KEPT = dt.timedelta(hours=3)
MOST_EACH = 3
"""A person seldom waits with more than one; the oldest goes first."""


def set_aside(
    owner: User,
    thing: models.Model | str,
    data: bytes,
    *,
    file_name: str,
    shown: bytes = b"",
    known: Mapping[str, Any] | None = None,
) -> WaitingFile:
    """Keep `data` for its owner, with `shown` as a small picture of it, about `thing`.

    `thing` may be given by the name under which `subject_of` knows it.
    """
    clear_out()
    about = thing if isinstance(thing, str) else subject_of(thing)
    waiting = WaitingFile(
        owner=owner, about=about, file_name=file_name[-120:], known=dict(known or {})
    )
    try:
        with transaction.atomic():
            waiting.file.save("file", ContentFile(data), save=False)
            if shown:
                waiting.shown.save("shown", ContentFile(shown), save=False)
            waiting.save()
            older = WaitingFile.objects.filter(owner=owner).order_by("-pk")[MOST_EACH:]
            for one in older:
                let_go(one)
    except BaseException:
        _drop(waiting.file.name, waiting.shown.name)
        raise
    return waiting


def waiting_file(owner: User, thing: models.Model, token: str) -> WaitingFile | None:
    """The owner's own file about this very thing; None when there is none or its time is over.

    `token` may be anything that somebody sends.
    """
    if not slug_re.fullmatch(token):
        return None
    return WaitingFile.objects.filter(
        owner=owner,
        about=subject_of(thing),
        token=token,
        brought_at__gt=timezone.now() - KEPT,
    ).first()


def content_of(waiting: WaitingFile) -> bytes:
    """Raises FileNotFoundError when it was cleared at this very moment."""
    with waiting.file.open("rb") as file:
        return bytes(file.read())


def let_go(waiting: WaitingFile) -> None:
    """It is no longer needed."""
    files = waiting.file.name, waiting.shown.name
    WaitingFile.objects.filter(pk=waiting.pk).delete()
    transaction.on_commit(lambda: _drop(*files))


def clear_out() -> int:
    """Remove what is too old, and files whose row never came to be. How many files went."""
    long_ago = timezone.now() - KEPT
    old = list(WaitingFile.objects.filter(brought_at__lte=long_ago)[:200])
    for waiting in old:
        let_go(waiting)
    store = private_files()
    if not store.exists(FOLDER):
        return len(old)
    named = {name for pair in WaitingFile.objects.values_list("file", "shown") for name in pair}
    stray = 0
    for file in store.listdir(FOLDER)[1]:
        name = f"{FOLDER}/{file}"
        # A young one may belong to a row that is being written at this moment.
        if name not in named and is_old(store, name, long_ago):
            _drop(name)
            stray += 1
    return len(old) + stray


def is_old(store: Any, name: str, long_ago: dt.datetime) -> bool:
    try:
        return bool(store.get_modified_time(name) <= long_ago)
    except FileNotFoundError:
        return False  # somebody else has just cleared it


def _drop(*names: str | None) -> None:
    for name in names:
        if name:
            try:
                private_files().delete(name)
            except OSError:
                logger.warning("a waiting file could not be removed; the next look tries again")
