"""What teachers are told of the school's backups; nothing while all is well.

Every teacher is told that something is wrong, for the one who looks after the school may not come
by for weeks. Why, and what to do at the server, is told to that one alone: it names the server's
folders, and the others can only pass it on.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Final

from django.conf import settings
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from classroom.models import BackupRun, User

from .daily import SILENT

Kind, Outcome = BackupRun.Kind, BackupRun.Outcome
TOO_OLD: Final = dt.timedelta(days=2)
"""One night may fall out, as the machine may be off; two may not."""


@dataclass(frozen=True)
class Trouble:
    title: str
    text: str


def trouble(user: User, now: dt.datetime | None = None) -> Trouble | None:
    """Reads only."""
    if not (settings.BACKUP_DAILY and user.is_teacher):
        return None
    moment = now or timezone.now()
    good = BackupRun.objects.filter(outcome=Outcome.DONE).order_by("-at", "-pk").first()
    wrong = _newest_that_went_wrong(moment)
    if wrong is not None and (good is None or wrong.at > good.at):
        return Trouble(_("The last backup failed"), _of_a_failure(user, wrong))
    if good is None and moment - user.school.created_at > TOO_OLD:
        return Trouble(_("There is no backup yet"), _of_none(user))
    if good is not None and moment - good.at > TOO_OLD:
        return Trouble(_("The newest backup is too old"), _of_an_old_one(user, good))
    return None


def _of_a_failure(user: User, wrong: BackupRun) -> str:
    if not user.keeps_school:
        return _(
            "%(day)s. Tell the teacher who looks after the school's settings, whose first page "
            "says why."
        ) % {"day": _day(wrong.at)}
    return _(
        "%(day)s: %(words)s Tell whoever looks after the server; it is tried again every hour."
    ) % {
        "day": _day(wrong.at),
        "words": wrong.words or _("It began and never said how it ended."),
    }


def _of_none(user: User) -> str:
    if not user.keeps_school:
        return _(
            "If the server broke, the school's work would be lost. Tell the teacher who looks "
            "after the school's settings."
        )
    return _(
        "The server makes one a day by itself once it is started with “manage.py serve”. "
        "Tell whoever looks after the server."
    )


def _of_an_old_one(user: User, good: BackupRun) -> str:
    if not user.keeps_school:
        return _("It is of %(day)s. Tell the teacher who looks after the school's settings.") % {
            "day": _day(good.at)
        }
    return _(
        "It is of %(day)s. The server makes one a day by itself while it runs; tell whoever "
        "looks after the server."
    ) % {"day": _day(good.at)}


def _newest_that_went_wrong(moment: dt.datetime) -> BackupRun | None:
    """A failure that was written down, or a beginning that nothing followed: a run that was
    killed, or whose machine lost its power, writes nothing."""
    daily = BackupRun.objects.filter(kind=Kind.DAILY).order_by("-at", "-pk")
    failed = daily.filter(outcome=Outcome.FAILED).first()
    lost = daily.filter(outcome=Outcome.BEGUN, at__lte=moment - SILENT).first()
    if lost is not None and daily.filter(slot=lost.slot).exclude(outcome=Outcome.BEGUN).exists():
        lost = None
    found = [run for run in (failed, lost) if run is not None]
    return max(found, key=lambda run: run.at, default=None)


def _day(at: dt.datetime) -> str:
    return date_format(timezone.localtime(at), "j F, H:i")
