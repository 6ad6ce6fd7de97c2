"""A device is made a bench tablet for the day, is closed, and steps are signed on it.

The device keeps a secret and nothing else; what the secret opens is decided here and ends with
the school's day. Each form has a key of its own: sent twice, by a double tap or because an
answer was lost, it is one sign-off.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import hmac
import secrets
import uuid
import zoneinfo

from django.db import IntegrityError, transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from classroom.models import Course, User, record
from classroom.refusals import Refused
from studio.models import BenchStep, BenchTablet, StockStep, TabletDeed

from .sign import sign_done, start_step

What = TabletDeed.What


@transaction.atomic
def open_tablet(course: Course, *, acting: User) -> tuple[BenchTablet, str]:
    """A new tablet for the course until the school's day ends, and the secret for the device.

    Only the secret's hash is kept. Raises Refused for a closed course and for anybody but a
    teacher of it.
    """
    if not acting.is_teacher or not course.teachers.filter(pk=acting.pk).exists():
        raise Refused(_("Only a teacher of this course opens a bench tablet."))
    if course.closed_at is not None:
        raise Refused(_("This course is closed. Open it again first."))
    secret = secrets.token_urlsafe(32)
    now = timezone.now()
    tablet = BenchTablet.objects.create(
        course=course,
        secret_sha=_sha(secret),
        opened_by=acting,
        opened_at=now,
        expires_at=end_of_day(course, now),
    )
    record(acting, "tablet-opened", tablet, f"opened a bench tablet for {course}")
    return tablet, secret


@transaction.atomic
def close_tablet(tablet: BenchTablet, *, acting: User) -> None:
    """The device opens nothing from now on. Closing twice changes nothing."""
    now = timezone.now()
    open_now = BenchTablet.objects.filter(pk=tablet.pk, closed_at=None)
    if open_now.update(closed_at=now, closed_by=acting):
        record(acting, "tablet-closed", tablet, f"closed a bench tablet of {tablet.course}")


def tablet_of(pk: int, secret: str, now: dt.datetime | None = None) -> BenchTablet | None:
    """The tablet whose device shows this secret, while it may be used."""
    tablet = BenchTablet.objects.select_related("course__school", "opened_by").filter(pk=pk).first()
    if tablet is None or not hmac.compare_digest(tablet.secret_sha, _sha(secret)):
        return None
    return tablet if tablet.works_at(now or timezone.now()) else None


@transaction.atomic
def sign_on_tablet(
    tablet: BenchTablet, step: BenchStep, *, what: str, key: uuid.UUID, acting: User
) -> BenchStep:
    """The student starts (`What.START`) or signs (`What.DONE`) the step, once for each key.

    The same form sent again finds its work done and does nothing, even where the step has been
    sent back meanwhile. Raises Refused for what the bench's rules refuse, for a tablet that was
    closed, and for a key that another form has used; then the key is free again.
    """
    if not claim(tablet, key, acting=acting, what=what, step=step):
        return BenchStep.objects.select_related("project").get(pk=step.pk)
    if what == What.START:
        return start_step(step, acting=acting)
    return sign_done(step, acting=acting)


def claim(
    tablet: BenchTablet,
    key: uuid.UUID,
    *,
    acting: User,
    what: str,
    step: BenchStep | None = None,
    stock_step: StockStep | None = None,
) -> bool:
    """Whether this form is sent for the first time, inside the caller's transaction; the tablet is
    held. Raises Refused for a tablet that was closed, and for another form's key."""
    held = BenchTablet.objects.select_for_update(of=("self",)).get(pk=tablet.pk)
    held.course, held.opened_by = tablet.course, tablet.opened_by
    if not held.works_at(timezone.now()):
        raise Refused(_("This bench tablet has been closed. Ask your teacher."))
    about = {"step": step, "stock_step": stock_step, "by": acting, "what": what}
    try:
        with transaction.atomic():
            TabletDeed.objects.create(key=key, tablet=held, **about)
    except IntegrityError:
        earlier = TabletDeed.objects.get(key=key)
        same = earlier.tablet_id == held.pk and all(
            getattr(earlier, name) == value for name, value in about.items()
        )
        if not same:
            raise Refused(_("This form was used before. Choose your name again.")) from None
        return False
    return True


def end_of_day(course: Course, now: dt.datetime) -> dt.datetime:
    """Midnight on the clock of the school's wall."""
    zone = zoneinfo.ZoneInfo(course.school.time_zone)
    tomorrow = now.astimezone(zone).date() + dt.timedelta(days=1)
    return dt.datetime.combine(tomorrow, dt.time(), zone)


def _sha(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()
