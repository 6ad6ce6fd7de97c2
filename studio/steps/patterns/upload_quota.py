"""How much one person may bring in a day, and one project may keep.

Far above what a lesson needs; they keep one person from filling the school's disk. Asked where a
file is brought, before it is read, and again where it is stored, with the project's row held.
"""

from __future__ import annotations

import datetime as dt
import zoneinfo

from django.conf import settings
from django.db import IntegrityError, transaction
from django.db.models import F
from django.utils import timezone
from django.utils.translation import gettext

from classroom.models import User
from classroom.refusals import Refused
from studio.models import Pattern, Project
from studio.models.upload_tally import UploadTally

from .sheet_picture import paper_name

_KEPT_DAYS = 7


def count_upload(owner: User) -> None:
    """Count one more file of the owner's today (the school's day). Raises Refused beyond it."""
    today = timezone.now().astimezone(zoneinfo.ZoneInfo(owner.school.time_zone)).date()
    if _one_more(owner, today):
        return
    if not UploadTally.objects.filter(owner=owner, day=today).exists():
        UploadTally.objects.filter(
            owner=owner, day__lt=today - dt.timedelta(days=_KEPT_DAYS)
        ).delete()
        try:
            with transaction.atomic():
                UploadTally.objects.create(owner=owner, day=today)
        except IntegrityError:
            pass  # another request of the same person made it at this moment
        if _one_more(owner, today):
            return
    raise Refused(
        gettext(
            "You have brought %(count)s files today, which is the most in one day. Change the "
            "pattern that you have on its page, or go on tomorrow."
        )
        % {"count": settings.UPLOADS_A_DAY}
    )


def _one_more(owner: User, day: dt.date) -> bool:
    return bool(
        UploadTally.objects.filter(owner=owner, day=day, count__lt=settings.UPLOADS_A_DAY).update(
            count=F("count") + 1
        )
    )


def require_room(project: Project, more_bytes: int = 0) -> None:
    """Raises Refused where the project keeps as many versions, or as much, as it may."""
    if project.patterns.count() >= settings.VERSIONS_A_PROJECT:
        raise Refused(
            gettext(
                "This project keeps %(count)s versions of its pattern, which is the most. Change "
                "the newest one on its page instead of bringing another, or ask your teacher."
            )
            % {"count": settings.VERSIONS_A_PROJECT}
        )
    most = settings.PROJECT_MB * 1_000_000
    if kept_bytes(project) + more_bytes > most:
        raise Refused(
            gettext(
                "The files of this project fill %(most)s MB, which is the most. Bring a smaller "
                "file (a scan at 300 dpi, or a photo of fewer pixels), or ask your teacher."
            )
            % {"most": settings.PROJECT_MB}
        )


def kept_bytes(project: Project) -> int:
    """Bytes of the files that the project's versions name, each counted once."""
    store = Pattern._meta.get_field("file").storage
    names = set(project.patterns.exclude(file="").values_list("file", flat=True))
    found = 0
    for name in names | {paper_name(name) for name in names}:
        try:
            found += store.size(name)
        except FileNotFoundError:
            continue  # most have no picture of their sheet
    return found
