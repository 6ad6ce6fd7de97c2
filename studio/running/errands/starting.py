"""An errand is asked for: within the bounds it is written down and queued, beyond them refused."""

from __future__ import annotations

import threading
import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from django.conf import settings
from django.core.files.base import ContentFile
from django.db import IntegrityError, transaction
from django.utils.translation import get_language, gettext, ngettext

from classroom.models import User
from classroom.refusals import Busy
from studio.models import Errand
from studio.steps.patterns.upload_quota import count_upload
from studio.tasks import do_errand

from .files import drop

_MOMENTS = threading.BoundedSemaphore(2)
"""So many requests of one process may wait a moment for a quick errand; the others go to the
waiting page at once, so that waiting cannot take up the threads that answer."""

_LOOK_SECONDS = 0.05
HERE = "here"


@dataclass(frozen=True, slots=True)
class NewErrand:
    """What is to be done. `asked` is JSON for the kind's own part; `data` what was brought."""

    kind: str
    title: str
    back: str
    about: str = ""
    asked: Mapping[str, Any] = field(default_factory=dict)
    data: bytes = b""


def start(owner: User, wanted: NewErrand) -> Errand:
    """Write the errand down and queue it. Then nothing is kept where it raises: Busy beyond the
    bounds of a moment, Refused beyond those of a day."""
    _look_for_room(owner)
    errand = Errand(
        owner=owner,
        kind=wanted.kind,
        about=wanted.about,
        title=wanted.title[:120],
        back=wanted.back[:300],
        asked={**wanted.asked, "language": get_language() or "en"},
    )
    if wanted.data:
        errand.file.save("file", ContentFile(wanted.data), save=False)
    try:
        _take_a_slot(errand, brought=bool(wanted.data))
    except BaseException:
        drop(errand.file.name)
        raise
    if settings.ERRANDS_AT_ONCE:
        from .doing import run

        run(errand.pk, HERE)
        errand.refresh_from_db()
    return errand


def _look_for_room(owner: User) -> int:
    """A free slot of the owner's. Raises Busy where there is none, or none in the house."""
    still_open = Errand.objects.still_open()
    taken = set(still_open.filter(owner=owner).values_list("slot", flat=True))
    free = [slot for slot in range(settings.ERRANDS_EACH) if slot not in taken]
    if not free:
        raise Busy(
            ngettext(
                "You are waiting for %(count)s file or print already. Wait for that first, or "
                "call it off.",
                "You are waiting for %(count)s files or prints already. Wait for one of them "
                "first, or call one off.",
                len(taken),
            )
            % {"count": len(taken)}
        )
    if still_open.count() >= settings.ERRANDS_IN_ALL:
        raise Busy(
            gettext("Many people are waiting for files and prints just now. Try in a moment.")
        )
    return free[0]


def _take_a_slot(errand: Errand, *, brought: bool) -> None:
    for _ in range(settings.ERRANDS_EACH + 1):
        try:
            with transaction.atomic():
                errand.slot = _look_for_room(errand.owner)
                if brought:
                    count_upload(errand.owner)
                errand.save(force_insert=True)
                if not settings.ERRANDS_AT_ONCE:
                    transaction.on_commit(lambda: do_errand.enqueue(errand.pk))
        except IntegrityError:
            continue  # another request of the same person took that slot at this very moment
        return
    raise Busy(gettext("You asked for several things at the same moment. Try in a moment."))


def wait_a_moment(errand: Errand) -> Errand:
    """The errand, over by now if it was quick and its turn at once; else as it stands."""
    if not errand.is_open or Errand.objects.before(errand).exists():
        return errand
    if not _MOMENTS.acquire(blocking=False):
        return errand
    try:
        end = time.monotonic() + settings.ERRAND_MOMENT_SECONDS
        while time.monotonic() < end:
            time.sleep(_LOOK_SECONDS)
            if not Errand.objects.still_open().filter(pk=errand.pk).exists():
                break
    finally:
        _MOMENTS.release()
    errand.refresh_from_db()
    return errand
