"""What errands left behind goes after some hours, like every file that waits for a person."""

from __future__ import annotations

from django.db.models import Count
from django.utils import timezone

from classroom.files.waiting_files import KEPT, is_old
from classroom.models.waiting_file import private_files
from studio.models import Errand
from studio.models.errand import FOLDER

from .files import drop

MOST_KEPT = 12
"""Ended errands of one person; of more, the oldest go before their time."""

_AT_A_TIME = 200


def clear_out() -> int:
    """Remove ended errands that are too old or too many, and files without a row."""
    long_ago = timezone.now() - KEPT
    ended = Errand.objects.exclude(state__in=Errand.OPEN)
    gone = _remove(list(ended.filter(ended_at__lte=long_ago)[:_AT_A_TIME]))
    many = ended.order_by().values("owner").annotate(kept=Count("pk")).filter(kept__gt=MOST_KEPT)
    for row in many[:_AT_A_TIME]:
        newest_first = ended.filter(owner=row["owner"]).order_by("-pk")
        gone += _remove(list(newest_first[MOST_KEPT : MOST_KEPT + _AT_A_TIME]))
    return gone + _clear_strays()


def _remove(errands: list[Errand]) -> int:
    for errand in errands:
        Errand.objects.filter(pk=errand.pk).delete()
        drop(errand.file.name, errand.result.name)
    return len(errands)


def _clear_strays() -> int:
    store = private_files()
    if not store.exists(FOLDER):
        return 0
    long_ago = timezone.now() - KEPT
    named = {name for pair in Errand.objects.values_list("file", "result") for name in pair}
    stray = 0
    for file in store.listdir(FOLDER)[1]:
        name = f"{FOLDER}/{file}"
        # A young one may belong to a row that is being written at this moment.
        if name not in named and is_old(store, name, long_ago):
            drop(name)
            stray += 1
    return stray
