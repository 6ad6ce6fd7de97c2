"""How students stand with the topics on a day: in force, ending, run out, withdrawn, none."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from django.utils.translation import gettext

from classroom.models import BenchPermit, Topic, User

SOON_DAYS = 14
"""A permit that ends within so many days is shown as ending soon (common practice, no source)."""


class Standing(StrEnum):
    IN_FORCE = "in force"
    ENDS_SOON = "ends soon"
    EXPIRED = "expired"
    WITHDRAWN = "withdrawn"
    NONE = "none"


@dataclass(frozen=True, slots=True)
class TopicStanding:
    """How one student stands with one topic on a day; `permit` is the one that tells."""

    topic: Topic
    standing: Standing
    permit: BenchPermit | None = None

    @property
    def in_force(self) -> bool:
        return self.standing in (Standing.IN_FORCE, Standing.ENDS_SOON)

    @property
    def kind(self) -> str:
        """The look of its status word."""
        return {
            Standing.IN_FORCE: "done",
            Standing.ENDS_SOON: "caution",
            Standing.EXPIRED: "stop",
            Standing.WITHDRAWN: "stop",
            Standing.NONE: "locked",
        }[self.standing]

    @property
    def word(self) -> str:
        """What its status says, in the language of the page; `day` follows where there is one."""
        return {
            Standing.IN_FORCE: gettext("Until"),
            Standing.ENDS_SOON: gettext("Ends"),
            Standing.EXPIRED: gettext("Ran out"),
            Standing.WITHDRAWN: gettext("Withdrawn"),
            Standing.NONE: gettext("None"),
        }[self.standing]

    @property
    def day(self) -> dt.date | dt.datetime | None:
        """The permit's last day; of a withdrawn one, when that was done."""
        if self.permit is None or self.standing == Standing.NONE:
            return None
        if self.standing == Standing.WITHDRAWN:
            return self.permit.withdrawal.withdrawn_at
        return self.permit.expires_on

    @property
    def older_wording(self) -> bool:
        return self.permit is not None and self.permit.topic_version < self.topic.version


def standings(
    students: Sequence[User], topics: Sequence[Topic], day: dt.date
) -> dict[int, list[TopicStanding]]:
    """How each student (by id) stands with each topic, in the topics' order; one query."""
    latest: dict[tuple[int, int], BenchPermit] = {}
    permits = (
        BenchPermit.objects.filter(student__in=students, topic__in=topics)
        .select_related("withdrawal", "given_by")
        .order_by("pk")
    )
    for permit in permits:
        key = (permit.student_id, permit.topic_id)
        before = latest.get(key)
        if before is None or _rank(permit, day) >= _rank(before, day):
            latest[key] = permit
    return {
        student.pk: [_standing(topic, latest.get((student.pk, topic.pk)), day) for topic in topics]
        for student in students
    }


def standing_of(student: User, day: dt.date) -> list[TopicStanding]:
    """The student's own list over all topics that the school asks for."""
    topics = list(Topic.objects.filter(school=student.school, retired_at=None))
    return standings([student], topics, day)[student.pk]


def _rank(permit: BenchPermit, day: dt.date) -> tuple[bool, dt.date, int]:
    """The permit in force counts most, then the one that ends last."""
    in_force = not hasattr(permit, "withdrawal") and permit.expires_on >= day
    return in_force, permit.expires_on, permit.pk


def _standing(topic: Topic, permit: BenchPermit | None, day: dt.date) -> TopicStanding:
    if permit is None:
        return TopicStanding(topic, Standing.NONE)
    if hasattr(permit, "withdrawal"):
        return TopicStanding(topic, Standing.WITHDRAWN, permit)
    if permit.expires_on < day:
        return TopicStanding(topic, Standing.EXPIRED, permit)
    soon = permit.expires_on <= day + dt.timedelta(days=SOON_DAYS)
    return TopicStanding(topic, Standing.ENDS_SOON if soon else Standing.IN_FORCE, permit)
